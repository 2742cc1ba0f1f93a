package calibrate

import (
	"image"
	"math"

	"hidechart/hide"
)

// The order of the camera's parameters in every vector and matrix: a turn about
// the camera's axes (rad) and a shift (mm) of the table's middle, then the inner
// geometry.
const (
	pTurn   = 0
	pShift  = 3
	pFocal  = 6 // ln fx
	pAspect = 7 // ln fy - ln fx
	pCX     = 8
	pCY     = 9
	pK1     = 10
	pK2     = 11
	pP1     = 12
	pP2     = 13
	cameraN = 14
	pPrint  = cameraN // ln of the printed tags' size against the rig's
	pTags   = cameraN + 1
	perTag  = 3 // dx, dy (mm), turn (rad)
)

// problem is what is given.
type problem struct {
	rig   Rig
	seen  []Sighting      // sorted by id, each with a good corner
	arms  [][4][2]float64 // from the centre of each tag seen to its corners as the rig has them, mm
	size  image.Point
	pivot [2]float64 // middle of the tags seen, about which the pose turns
	reach float64    // their spread, mm
	mean  [cameraN]float64
	sd    [cameraN]float64 // 0: no prior
	p     Params
	lens  bool    // the inner geometry came from a file
	k3    float64 // held as the file says
}

// solution is what is sought.
type solution struct {
	inner [cameraN]float64 // only from pFocal on; the pose is in r and t
	k3    float64
	r     [9]float64
	t     [3]float64 // of the pivot
	pivot [2]float64
	size  image.Point
	print float64
	tags  []tagError

	noise float64 // factor on the corners' assumed uncertainty
	tagU  float64 // mm
	turnU float64 // rad
	cost  float64
	cov   [][]float64 // of the camera's parameters
}

type tagError struct{ dx, dy, turn float64 }

func newProblem(rig Rig, size image.Point, seen []Sighting, lens *Lens, p Params) *problem {
	pr := &problem{rig: rig, seen: seen, size: size, p: p, lens: lens != nil}
	for _, s := range seen {
		c := rig.Centres[s.ID]
		pr.pivot[0] += float64(c.X) / float64(len(seen))
		pr.pivot[1] += float64(c.Y) / float64(len(seen))
	}
	pr.arms = make([][4][2]float64, len(seen))
	for i, s := range seen {
		c := rig.Centres[s.ID]
		for k, q := range rig.Corners(s.ID) {
			pr.arms[i][k] = [2]float64{float64(q.X - c.X), float64(q.Y - c.Y)}
		}
		pr.reach = max(pr.reach, math.Hypot(float64(c.X)-pr.pivot[0], float64(c.Y)-pr.pivot[1]))
	}
	pr.priors(lens)
	return pr
}

// meanFocal is the prior's middle, in units of the longer side: about 30 mm on
// a 36 mm sensor.
const meanFocal = 0.85

func (pr *problem) priors(lens *Lens) {
	w, h := float64(pr.size.X), float64(pr.size.Y)
	pr.mean = [cameraN]float64{pFocal: math.Log(meanFocal * max(w, h)), pCX: (w - 1) / 2, pCY: (h - 1) / 2}
	pr.sd = [cameraN]float64{pFocal: pr.p.FocalU, pAspect: pr.p.AspectU, pCX: pr.p.CentreU * w, pCY: pr.p.CentreU * w,
		pK1: pr.p.RadialU, pK2: pr.p.RadialU, pP1: pr.p.TangentU, pP2: pr.p.TangentU}
	if lens == nil {
		return
	}
	c, u := lens.Camera, lens.U
	pr.mean = [cameraN]float64{pFocal: math.Log(c.FX), pAspect: math.Log(c.FY / c.FX), pCX: c.CX, pCY: c.CY, pK1: c.K1, pK2: c.K2, pP1: c.P1, pP2: c.P2}
	// The floors keep a term that was held from being taken as perfectly known,
	// and the problem solvable.
	rel := math.Hypot(u.FX/c.FX, u.FY/c.FY) / math.Sqrt2
	pr.sd = [cameraN]float64{pFocal: max(rel, 1e-5), pAspect: max(rel/10, 1e-5), pCX: max(u.CX, 0.01), pCY: max(u.CY, 0.01),
		pK1: max(u.K1, 1e-6), pK2: max(u.K2, 1e-6), pP1: max(u.P1, 1e-7), pP2: max(u.P2, 1e-7)}
	pr.k3 = c.K3
}

func (s *solution) camera() Camera {
	f := math.Exp(s.inner[pFocal])
	return Camera{FX: f, FY: f * math.Exp(s.inner[pAspect]), CX: s.inner[pCX], CY: s.inner[pCY],
		K1: s.inner[pK1], K2: s.inner[pK2], P1: s.inner[pP1], P2: s.inner[pP2], K3: s.k3, Width: s.size.X, Height: s.size.Y}
}

// view moves the frame's origin from the pivot back to the table's corner.
func (s *solution) view() View {
	v := View{Camera: s.camera(), R: s.r, T: s.t}
	for i := range 3 {
		v.T[i] -= s.r[3*i]*s.pivot[0] + s.r[3*i+1]*s.pivot[1]
	}
	return v
}

// stepped is the solution after a step of its camera's parameters.
func (s *solution) stepped(d []float64) solution {
	out := *s
	out.r = product(rotation([3]float64{d[0], d[1], d[2]}), s.r)
	for i := range 3 {
		out.t[i] += d[pShift+i]
	}
	for i := pFocal; i < cameraN; i++ {
		out.inner[i] += d[i]
	}
	return out
}

// corner is where corner k of tag i lies on the table, the tag's own errors
// included.
func (pr *problem) corner(s *solution, i, k int) (x, y float64) {
	c, arm := pr.centre(i), pr.arms[i][k]
	size := math.Exp(s.print)
	rx, ry := arm[0]*size, arm[1]*size
	e := s.tags[i]
	return float64(c.X) + rx - e.turn*ry + e.dx, float64(c.Y) + ry + e.turn*rx + e.dy
}

// cornerVariance is what is assumed of a corner, before the noise factor.
func (pr *problem) cornerVariance(i, k int) float64 {
	sd := float64(pr.seen[i].SD[k])
	return sd*sd + float64(pr.p.CornerU*pr.p.CornerU)
}

func rotation(w [3]float64) [9]float64 {
	var out [9]float64
	for k := range 3 {
		e := [3]float64{}
		e[k] = 1
		c := turned(w, e)
		for i := range 3 {
			out[3*i+k] = c[i]
		}
	}
	return out
}

func product(a, b [9]float64) [9]float64 {
	var out [9]float64
	for i := range 3 {
		for k := range 3 {
			for j := range 3 {
				out[3*i+k] += a[3*i+j] * b[3*j+k]
			}
		}
	}
	return out
}

func (pr *problem) centre(i int) hide.Point { return pr.rig.Centres[pr.seen[i].ID] }
