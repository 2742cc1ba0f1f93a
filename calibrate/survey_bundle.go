package calibrate

import (
	"image"
	"math"

	"gonum.org/v1/gonum/mat"
)

// The order of unknowns in the vectors and matrices of a survey: the camera's
// inner geometry, how much longer tags are along than across, then six for each
// photograph (turn, rad, and shift, mm, in the camera's frame), then four for each
// tag (x, y, mm; turn, rad; height, mm).
const (
	bInner   = 0
	innerN   = cameraN - pFocal
	bStretch = innerN
	bPoses   = innerN + 1
	perPose  = 6
	perPlace = 4
)

const (
	// heldHeight and freeHeight are the deviations, mm, of a tag's height off the
	// plane: none in the fit that gives the result; a warped or jointed table's in the
	// fit that says how flat it is.
	heldHeight, freeHeight = 1e-4, 5.0
	// stretchU is how much a printer's paper feed and its head differ: rarely over
	// 0.2 % (common practice, no source).
	stretchU = 0.002
	// gaugeU, mm, ties the mean place and turn of all tags where the start has them;
	// far below what corners can tell, so that it adds nothing to an uncertainty.
	gaugeU = 1e-3
	// cornersKept is how many corners of a tag must remain for it to stay in a
	// photograph.
	cornersKept = 3
)

// bundle is what is given.
type bundle struct {
	names  []string
	ids    []int         // ascending
	index  map[int]int   // id to place in ids
	seen   []sight       // by photograph, then id
	unused map[int][]int // ids left out of a photograph
	blank  []string      // photographs without tags
	size   image.Point
	p      SurveyParams
	mean   [cameraN]float64
	sd     [cameraN]float64
	k3     float64
	lens   bool
}

// sight is a tag in a photograph.
type sight struct {
	photo, tag int
	Sighting
}

type bundlePose struct {
	r [9]float64
	t [3]float64
}

type bundleTag struct{ x, y, turn, z float64 }

// bundleState is what is sought.
type bundleState struct {
	inner   [cameraN]float64 // from pFocal on
	k3      float64
	size    image.Point
	stretch float64 // ln of length along over length across
	poses   []bundlePose
	tags    []bundleTag
	noise   float64
	cost    float64
}

func (s *bundleState) camera() Camera {
	return (&solution{inner: s.inner, k3: s.k3, size: s.size}).camera()
}

func (s *bundleState) view(photo int) View {
	return View{Camera: s.camera(), R: s.poses[photo].r, T: s.poses[photo].t}
}

func (b *bundle) unknowns() int { return bPoses + perPose*len(b.names) + perPlace*len(b.ids) }

func (b *bundle) tagAt(tag int) int { return bPoses + perPose*len(b.names) + perPlace*tag }

// offset is where corner k lies from its tag's centre, turned.
func (b *bundle) offset(s *bundleState, tag, k int) (x, y, alongX, alongY float64) {
	half := float64(b.p.Edge) / 2
	px := half * math.Exp(s.stretch/2) * [4]float64{-1, 1, 1, -1}[k]
	py := half * math.Exp(-s.stretch/2) * [4]float64{-1, -1, 1, 1}[k]
	sin, cos := math.Sincos(s.tags[tag].turn)
	// the second pair is the derivative by stretch
	return cos*px - sin*py, sin*px + cos*py, (cos*px + sin*py) / 2, (sin*px - cos*py) / 2
}

// inCamera is a corner in the camera's frame, before (rx, ry, rz: turned only)
// and after the shift.
func (b *bundle) inCamera(s *bundleState, g *sight, k int) (turned, p [3]float64) {
	ox, oy, _, _ := b.offset(s, g.tag, k)
	t, pose := &s.tags[g.tag], &s.poses[g.photo]
	x, y, z := t.x+ox, t.y+oy, t.z
	for i := range 3 {
		turned[i] = pose.r[3*i]*x + pose.r[3*i+1]*y + pose.r[3*i+2]*z
		p[i] = turned[i] + pose.t[i]
	}
	return turned, p
}

func landed(c Camera, p [3]float64) (x, y float64) {
	if p[2] <= 0 {
		return nowhere, nowhere
	}
	x, y, ok := c.pixel(p[0]/p[2], p[1]/p[2])
	if !ok {
		return nowhere, nowhere
	}
	return x, y
}

func (b *bundle) residual(s *bundleState, c Camera, g *sight, k int) (ex, ey float64) {
	_, p := b.inCamera(s, g, k)
	x, y := landed(c, p)
	return float64(g.Corners[k].X) - x, float64(g.Corners[k].Y) - y
}

func (b *bundle) variance(g *sight, k int) float64 {
	sd := float64(g.SD[k])
	return sd*sd + float64(b.p.Camera.CornerU*b.p.Camera.CornerU)
}

// each visits the corners that are used.
func (b *bundle) each(do func(g *sight, k int)) {
	for i := range b.seen {
		for k := range 4 {
			if b.seen[i].Good[k] {
				do(&b.seen[i], k)
			}
		}
	}
}

func (b *bundle) cost(s *bundleState, heights float64) float64 {
	c := s.camera()
	sum := 0.0
	b.each(func(g *sight, k int) {
		ex, ey := b.residual(s, c, g, k)
		u := math.Sqrt((ex*ex+ey*ey)/b.variance(g, k)) / s.noise
		if u <= huberReach {
			sum += u * u
		} else {
			sum += huberReach * (2*u - huberReach)
		}
	})
	for i := pFocal; i < cameraN; i++ {
		u := (s.inner[i] - b.mean[i]) / b.sd[i]
		sum += u * u
	}
	for _, t := range s.tags {
		sum += t.z * t.z / (heights * heights)
	}
	return sum + s.stretch*s.stretch/(stretchU*stretchU)
}

// stepped is the state after a step of all unknowns.
func (b *bundle) stepped(s *bundleState, d []float64) bundleState {
	out := *s
	for i := range innerN {
		out.inner[pFocal+i] += d[bInner+i]
	}
	out.stretch += d[bStretch]
	out.poses = make([]bundlePose, len(s.poses))
	for i, p := range s.poses {
		at := bPoses + perPose*i
		out.poses[i] = bundlePose{r: product(rotation([3]float64{d[at], d[at+1], d[at+2]}), p.r),
			t: [3]float64{p.t[0] + d[at+3], p.t[1] + d[at+4], p.t[2] + d[at+5]}}
	}
	out.tags = make([]bundleTag, len(s.tags))
	for i, t := range s.tags {
		at := b.tagAt(i)
		out.tags[i] = bundleTag{t.x + d[at], t.y + d[at+1], t.turn + d[at+2], t.z + d[at+3]}
	}
	return out
}

// bundleRow is one residual's derivatives.
type bundleRow struct {
	at [innerN + 1 + perPose + perPlace]int
	d  [innerN + 1 + perPose + perPlace]float64
}

// rows are the derivatives of a corner's pixel by all that it depends on: the
// camera numerically, the rest by the chain rule over the place in the camera's
// frame.
func (b *bundle) rows(s *bundleState, c Camera, g *sight, k int) [2]bundleRow {
	turned, p := b.inCamera(s, g, k)
	var out [2]bundleRow
	n := 0
	set := func(at int, dx, dy float64) {
		out[0].at[n], out[1].at[n] = at, at
		out[0].d[n], out[1].d[n] = dx, dy
		n++
	}
	h := s.innerSteps()
	for i := range innerN {
		moved := *s
		moved.inner[pFocal+i] += h[i]
		ax, ay := landed(moved.camera(), p)
		moved.inner[pFocal+i] -= 2 * h[i]
		bx, by := landed(moved.camera(), p)
		set(bInner+i, (ax-bx)/(2*h[i]), (ay-by)/(2*h[i]))
	}
	var jx, jy [3]float64 // by the place in the camera's frame
	for i := range 3 {
		e := 1e-5 * p[2] // a hundredth of a pixel: exact to 1e-8
		q := p
		q[i] += e
		ax, ay := landed(c, q)
		q[i] -= 2 * e
		bx, by := landed(c, q)
		jx[i], jy[i] = (ax-bx)/(2*e), (ay-by)/(2*e)
	}
	along := func(v [3]float64) (dx, dy float64) {
		return jx[0]*v[0] + jx[1]*v[1] + jx[2]*v[2], jy[0]*v[0] + jy[1]*v[1] + jy[2]*v[2]
	}
	onTable := func(at int, x, y, z float64) {
		r := &s.poses[g.photo].r
		dx, dy := along([3]float64{r[0]*x + r[1]*y + r[2]*z, r[3]*x + r[4]*y + r[5]*z, r[6]*x + r[7]*y + r[8]*z})
		set(at, dx, dy)
	}
	ox, oy, sx, sy := b.offset(s, g.tag, k)
	onTable(bStretch, sx, sy, 0)
	pose := bPoses + perPose*g.photo
	for i := range 3 {
		var axis, unit [3]float64
		unit[i] = 1
		axis = cross(unit, turned)
		dx, dy := along(axis)
		set(pose+i, dx, dy)
	}
	for i := range 3 {
		set(pose+3+i, jx[i], jy[i])
	}
	tag := b.tagAt(g.tag)
	onTable(tag, 1, 0, 0)
	onTable(tag+1, 0, 1, 0)
	onTable(tag+2, -oy, ox, 0)
	onTable(tag+3, 0, 0, 1)
	return out
}

// innerSteps are the steps of the camera's numeric derivatives, as for a single
// photograph.
func (s *bundleState) innerSteps() [innerN]float64 {
	return [innerN]float64{1e-5, 1e-5, 1e-2, 1e-2, 1e-4, 1e-4, 1e-5, 1e-5}
}

// normal builds the weighted normal equations with priors and the gauge.
func (b *bundle) normal(s *bundleState, heights float64) (*mat.SymDense, *mat.VecDense) {
	n := b.unknowns()
	a, g := mat.NewSymDense(n, nil), mat.NewVecDense(n, nil)
	raw, stride := a.RawSymmetric().Data, a.RawSymmetric().Stride
	c := s.camera()
	b.each(func(sg *sight, k int) {
		ex, ey := b.residual(s, c, sg, k)
		variance := b.variance(sg, k) * s.noise * s.noise
		w := 1 / variance
		if u := math.Sqrt((ex*ex + ey*ey) / variance); u > huberReach {
			w *= huberReach / u
		}
		rows := b.rows(s, c, sg, k)
		for axis, e := range [2]float64{ex, ey} {
			r := &rows[axis]
			for i, at := range r.at { // ascending, so that only the upper half is written
				g.SetVec(at, g.AtVec(at)+w*r.d[i]*e)
				for j := i; j < len(r.at); j++ {
					raw[at*stride+r.at[j]] += w * r.d[i] * r.d[j]
				}
			}
		}
	})
	prior := func(i int, off, sd float64) {
		raw[i*stride+i] += 1 / (sd * sd)
		g.SetVec(i, g.AtVec(i)-off/(sd*sd))
	}
	for i := pFocal; i < cameraN; i++ {
		prior(bInner+i-pFocal, s.inner[i]-b.mean[i], b.sd[i])
	}
	prior(bStretch, s.stretch, stretchU)
	for i, t := range s.tags {
		prior(b.tagAt(i)+3, t.z, heights)
	}
	for _, free := range b.gauge(s) {
		a.SymRankOne(a, 1/(gaugeU*gaugeU), free)
	}
	return a, g
}

// gauge are the directions in which all tags move together: two shifts and the
// turn about their middle, as unit vectors over the tags' centres.
func (b *bundle) gauge(s *bundleState) [3]*mat.VecDense {
	n := float64(len(s.tags))
	var mx, my float64
	for _, t := range s.tags {
		mx, my = mx+t.x/n, my+t.y/n
	}
	var out [3]*mat.VecDense
	for i := range out {
		out[i] = mat.NewVecDense(b.unknowns(), nil)
	}
	for i, t := range s.tags {
		at := b.tagAt(i)
		out[0].SetVec(at, 1)
		out[1].SetVec(at+1, 1)
		out[2].SetVec(at, -(t.y - my))
		out[2].SetVec(at+1, t.x-mx)
	}
	for _, v := range out {
		v.ScaleVec(1/v.Norm(2), v)
	}
	return out
}
