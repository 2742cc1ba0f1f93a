package calibrate

import (
	"math"

	"gonum.org/v1/gonum/optimize"

	"hidechart/hide"
)

// flatView is one photograph's tags brought to the plane: metric there, in a
// frame of its own.
type flatView struct {
	r       [9]float64
	t       [3]float64
	corners map[int][4][2]float64 // by tag index, mm
	cost    float64               // sum of squared relative differences of lengths
}

// start is the rough state: for a spread of focal lengths each photograph's
// plane is made metric by the one thing known of it, that all tags are squares
// of one size (Liebowitz & Zisserman 1998, equal lengths), and the photographs are
// chained over common tags. The focal length that makes squares best, wins, after
// a few steps of the fit.
func (b *bundle) start() (bundleState, error) {
	long := float64(max(b.size.X, b.size.Y))
	// as for a single photograph, steps that the fit bridges easily
	focals := []float64{0.5 * long, 0.75 * long, 1.1 * long, 1.7 * long, 3 * long}
	if b.lens {
		focals = []float64{math.Exp(b.mean[pFocal])}
	}
	var best bundleState
	found := false
	for _, f := range focals {
		s, ok := b.chained(f)
		if !ok {
			continue
		}
		b.descend(&s, mostSteps/2, roughGain, heldHeight)
		if !found || s.cost < best.cost {
			best, found = s, true
		}
	}
	if !found {
		return best, hide.Faultf(hide.NotMeasurable, "survey: no arrangement of the tags on one plane explains the photographs; are all tags on the table and of one size?")
	}
	return best, nil
}

// chained starts from the photograph with most tags and joins the others in
// the order of how many tags they share with what is placed.
func (b *bundle) chained(f float64) (bundleState, bool) {
	s := bundleState{k3: b.k3, size: b.size, noise: 1, poses: make([]bundlePose, len(b.names)), tags: make([]bundleTag, len(b.ids))}
	s.inner = b.mean
	s.inner[pFocal] = math.Log(f)
	views := make([]flatView, len(b.names))
	for i := range views {
		var ok bool
		if views[i], ok = b.flatten(i, s.camera()); !ok {
			return s, false
		}
	}
	placed := map[int][4][2]float64{}
	done := make([]bool, len(views))
	for range views {
		next, most := -1, -1
		for i, v := range views {
			if done[i] {
				continue
			}
			n := 0
			for tag := range v.corners {
				if _, ok := placed[tag]; ok || len(placed) == 0 {
					n++
				}
			}
			if n > most {
				next, most = i, n
			}
		}
		if len(views[next].corners) == 0 {
			done[next] = true
			s.poses[next] = bundlePose{r: views[next].r, t: views[next].t}
			continue
		}
		s.poses[next] = views[next].join(placed, b.order(next))
		done[next] = true
	}
	for i := range b.ids {
		s.tags[i] = tagFromCorners(placed[i])
	}
	return s, true
}

// order lists a photograph's tags by index, so that sums do not depend on the
// order of a map.
func (b *bundle) order(photo int) []int {
	var out []int
	for _, s := range b.seen {
		if s.photo == photo {
			out = append(out, s.tag)
		}
	}
	return out
}

// join turns and shifts the view's plane onto what is placed, adds its tags and
// returns the photograph's pose (Procrustes in the plane, closed form).
func (v flatView) join(placed map[int][4][2]float64, order []int) bundlePose {
	var ma, mb [2]float64 // means: here, there
	n := 0.0
	each := func(do func(a, b [2]float64)) {
		for _, tag := range order {
			if there, ok := placed[tag]; ok {
				for k, a := range v.corners[tag] {
					do(a, there[k])
				}
			}
		}
	}
	each(func(a, b [2]float64) {
		ma, mb = [2]float64{ma[0] + a[0], ma[1] + a[1]}, [2]float64{mb[0] + b[0], mb[1] + b[1]}
		n++
	})
	sin, cos := 0.0, 1.0
	if n > 0 {
		ma, mb = [2]float64{ma[0] / n, ma[1] / n}, [2]float64{mb[0] / n, mb[1] / n}
		var dot, cr float64
		each(func(a, b [2]float64) {
			ax, ay, bx, by := a[0]-ma[0], a[1]-ma[1], b[0]-mb[0], b[1]-mb[1]
			dot, cr = dot+ax*bx+ay*by, cr+ax*by-ay*bx
		})
		sin, cos = math.Sincos(math.Atan2(cr, dot))
	}
	for _, tag := range order {
		if _, ok := placed[tag]; ok {
			continue
		}
		var c [4][2]float64
		for k, a := range v.corners[tag] {
			x, y := a[0]-ma[0], a[1]-ma[1]
			c[k] = [2]float64{mb[0] + cos*x - sin*y, mb[1] + sin*x + cos*y}
		}
		placed[tag] = c
	}
	// here = Rᵀ(there - mb) + ma
	back := [9]float64{cos, sin, 0, -sin, cos, 0, 0, 0, 1}
	p := bundlePose{r: product(v.r, back), t: v.t}
	sx, sy := ma[0]-(cos*mb[0]+sin*mb[1]), ma[1]-(-sin*mb[0]+cos*mb[1])
	for i := range 3 {
		p.t[i] += v.r[3*i]*sx + v.r[3*i+1]*sy
	}
	return p
}

func tagFromCorners(c [4][2]float64) bundleTag {
	var t bundleTag
	for _, q := range c {
		t.x, t.y = t.x+q[0]/4, t.y+q[1]/4
	}
	t.turn = math.Atan2(c[1][1]-c[0][1]+c[2][1]-c[3][1], c[1][0]-c[0][0]+c[2][0]-c[3][0])
	return t
}

// flatten finds the tilt of the plane that makes a photograph's tags squares of
// one size, trying tilts to every side.
func (b *bundle) flatten(photo int, c Camera) (flatView, bool) {
	var dirs [][4][3]float64
	var tags []int
	for _, s := range b.seen {
		if s.photo != photo {
			continue
		}
		var d [4][3]float64
		for k, q := range s.Corners {
			u, v := c.direction(float64(q.X), float64(q.Y))
			d[k] = [3]float64{u, v, 1}
		}
		dirs, tags = append(dirs, d), append(tags, s.tag)
	}
	if len(tags) == 0 {
		v := flatView{t: [3]float64{0, 0, 1}, r: orthonormal([3]float64{1, 0, 0}, [3]float64{0, -1, 0})}
		return v, true
	}
	cost := func(n []float64) float64 { _, c := lengths(n, dirs); return c }
	best, at := math.Inf(1), []float64{0, 0}
	for _, tilt := range []float64{0, 0.5, 1.2} { // tangents: straight down, 27°, 50°
		for k := range 8 {
			sin, cos := math.Sincos(float64(k) * math.Pi / 4)
			r, err := optimize.Minimize(optimize.Problem{Func: cost}, []float64{tilt * cos, tilt * sin},
				&optimize.Settings{FuncEvaluations: 400}, &optimize.NelderMead{SimplexSize: 0.1})
			if err == nil && r.F < best {
				best, at = r.F, r.X
			}
			if tilt == 0 {
				break
			}
		}
	}
	if math.IsInf(best, 1) || best >= impossible {
		return flatView{}, false
	}
	return b.onPlane(at, dirs, tags, best), true
}

const impossible = 1e6 // cost of a plane that some ray does not meet

// lengths are the mean edge on the plane with normal (a, b, -1) at distance 1,
// and how unequal edges and diagonals are.
func lengths(n []float64, dirs [][4][3]float64) (mean, cost float64) {
	var logs []float64
	for _, d := range dirs {
		var p [4][3]float64
		for k, q := range d {
			down := 1 - n[0]*q[0] - n[1]*q[1]
			if down < 0.02 { // within a degree of the horizon or beyond
				return 0, impossible * (1 + n[0]*n[0] + n[1]*n[1])
			}
			for i := range 3 {
				p[k][i] = q[i] / down
			}
		}
		for _, e := range [6][2]int{{0, 1}, {1, 2}, {2, 3}, {3, 0}, {0, 2}, {1, 3}} {
			a, b := p[e[0]], p[e[1]]
			l := norm([3]float64{a[0] - b[0], a[1] - b[1], a[2] - b[2]})
			if e[1]-e[0] == 2 {
				l /= math.Sqrt2
			}
			logs = append(logs, math.Log(l))
		}
	}
	for _, l := range logs {
		mean += l / float64(len(logs))
	}
	for _, l := range logs {
		cost += (l - mean) * (l - mean)
	}
	return math.Exp(mean), cost
}

// onPlane places a photograph's tags on its plane, scaled by the edge.
func (b *bundle) onPlane(n []float64, dirs [][4][3]float64, tags []int, cost float64) flatView {
	mean, _ := lengths(n, dirs)
	scale := float64(b.p.Edge) / mean
	l := math.Sqrt(n[0]*n[0] + n[1]*n[1] + 1)
	up := [3]float64{n[0] / l, n[1] / l, -1 / l}
	e1 := [3]float64{1, 0, n[0]} // in the plane
	k := norm(e1)
	e1[0], e1[2] = e1[0]/k, e1[2]/k
	e2 := cross(up, e1)
	v := flatView{corners: map[int][4][2]float64{}, cost: cost}
	for i := range 3 {
		v.r[3*i], v.r[3*i+1], v.r[3*i+2] = e1[i], e2[i], up[i]
		v.t[i] = -up[i] * scale / l
	}
	for j, d := range dirs {
		var c [4][2]float64
		for m, q := range d {
			s := scale / (1 - n[0]*q[0] - n[1]*q[1])
			for i := range 3 {
				c[m][0] += e1[i] * q[i] * s
				c[m][1] += e2[i] * q[i] * s
			}
		}
		v.corners[tags[j]] = c
	}
	return v
}
