package calibrate

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// homography maps the table's plane to the photograph: nine terms, row by row.
type homography [9]float64

func (h homography) at(x, y float64) (u, v float64) {
	w := h[6]*x + h[7]*y + h[8]
	return (h[0]*x + h[1]*y + h[2]) / w, (h[3]*x + h[4]*y + h[5]) / w
}

// starts are rough poses for a spread of focal lengths, from the homography
// that most tags agree on (a tag's neighbour's place is far off; a lens is not).
func (pr *problem) starts() []solution {
	h, ok := pr.consensus()
	if !ok {
		return nil
	}
	long := float64(max(pr.size.X, pr.size.Y))
	// from wide to long lenses in steps that Levenberg-Marquardt bridges easily
	focals := []float64{0.5 * long, 0.75 * long, 1.1 * long, 1.7 * long, 3 * long}
	if pr.lens {
		focals = []float64{math.Exp(pr.mean[pFocal])}
	}
	var out []solution
	for _, f := range focals {
		if s, ok := pr.posed(h, f); ok {
			out = append(out, s)
		}
	}
	return out
}

// consensus fits homographies to pairs of tags and keeps the one that puts most
// tags within a tag's width of their places, then fits it to all of those.
func (pr *problem) consensus() (homography, bool) {
	n := len(pr.seen)
	var best []int
	const mostPairs = 500 // 32 tags have as many
	stride := max(1, n*(n-1)/2/mostPairs)
	pair := 0
	for a := range n {
		for b := a + 1; b < n; b++ {
			if pair++; pair%stride != 0 {
				continue
			}
			h, ok := pr.fitHomography([]int{a, b})
			if !ok {
				continue
			}
			if in := pr.agreeing(h); len(in) > len(best) {
				best = in
			}
		}
	}
	if len(best) < leastTags-1 { // with three, the solver can still say which tag contradicts
		return homography{}, false
	}
	return pr.fitHomography(best)
}

func (pr *problem) agreeing(h homography) []int {
	var in []int
	for i, s := range pr.seen {
		c := pr.centre(i)
		u, v := h.at(float64(c.X), float64(c.Y))
		mx, my, n := 0.0, 0.0, 0.0
		side := 0.0
		for k := range s.Corners {
			mx, my, n = mx+float64(s.Corners[k].X), my+float64(s.Corners[k].Y), n+1
			q := s.Corners[(k+1)%4]
			side = max(side, math.Hypot(float64(q.X-s.Corners[k].X), float64(q.Y-s.Corners[k].Y)))
		}
		// lens and extrapolation bend by up to 2 % of the spread; a wrong id is a
		// whole place off
		if math.Hypot(u-mx/n, v-my/n) < 1.5*side {
			in = append(in, i)
		}
	}
	return in
}

// fitHomography solves the direct linear transform (Hartley & Zisserman 2004,
// 4.1) with the last term 1, in centred and scaled coordinates.
func (pr *problem) fitHomography(tags []int) (homography, bool) {
	rows := 8 * len(tags)
	a, b := mat.NewDense(rows, 8, nil), mat.NewVecDense(rows, nil)
	sx, sp := max(pr.reach, 1), float64(max(pr.size.X, pr.size.Y))
	row := 0
	for _, i := range tags {
		for k, q := range pr.rig.Corners(pr.seen[i].ID) {
			x, y := (float64(q.X)-pr.pivot[0])/sx, (float64(q.Y)-pr.pivot[1])/sx
			u, v := float64(pr.seen[i].Corners[k].X)/sp, float64(pr.seen[i].Corners[k].Y)/sp
			a.SetRow(row, []float64{x, y, 1, 0, 0, 0, -u * x, -u * y})
			a.SetRow(row+1, []float64{0, 0, 0, x, y, 1, -v * x, -v * y})
			b.SetVec(row, u)
			b.SetVec(row+1, v)
			row += 2
		}
	}
	var qr mat.QR
	qr.Factorize(a)
	var sol mat.VecDense
	if err := qr.SolveVecTo(&sol, false, b); err != nil {
		return homography{}, false
	}
	g := sol.AtVec
	// undo the scaling: columns by 1/sx with the pivot moved, rows by sp
	h := homography{g(0) * sp / sx, g(1) * sp / sx, g(2) * sp, g(3) * sp / sx, g(4) * sp / sx, g(5) * sp, g(6) / sx, g(7) / sx, 1}
	for r := range 3 {
		h[3*r+2] -= h[3*r]*pr.pivot[0] + h[3*r+1]*pr.pivot[1]
	}
	return h, true
}

// posed reads a pose off the homography for a focal length (Zhang 2000, 3.1).
func (pr *problem) posed(h homography, f float64) (solution, bool) {
	s := solution{pivot: pr.pivot, size: pr.size, k3: pr.k3, tags: make([]tagError, len(pr.seen)), noise: 1,
		tagU: pr.startTagU(), turnU: pr.p.TurnUDeg * math.Pi / 180}
	s.inner = pr.mean
	s.inner[pFocal] = math.Log(f)
	cx, cy := s.inner[pCX], s.inner[pCY]
	aspect := math.Exp(s.inner[pAspect])
	col := func(k int) [3]float64 {
		return [3]float64{(h[k] - cx*h[6+k]) / f, (h[3+k] - cy*h[6+k]) / (f * aspect), h[6+k]}
	}
	a, b, t := col(0), col(1), col(2)
	scale := math.Sqrt(norm(a) * norm(b))
	if scale == 0 || math.IsNaN(scale) {
		return s, false
	}
	if pivotZ := a[2]*pr.pivot[0] + b[2]*pr.pivot[1] + t[2]; pivotZ < 0 {
		scale = -scale
	}
	for i := range 3 {
		a[i], b[i], t[i] = a[i]/scale, b[i]/scale, t[i]/scale
		s.t[i] = t[i] + a[i]*pr.pivot[0] + b[i]*pr.pivot[1]
	}
	c := cross(a, b)
	if c[2] > 0 { // the camera would look at the tags from below
		return s, false
	}
	s.r = orthonormal(a, b)
	return s, true
}

func (pr *problem) startTagU() float64 {
	if pr.rig.CentreU > 0 {
		return float64(pr.rig.CentreU)
	}
	return float64(pr.p.TagU)
}

// orthonormal is the rotation whose first two columns are nearest to a and b,
// treating both alike.
func orthonormal(a, b [3]float64) [9]float64 {
	sum, diff := [3]float64{}, [3]float64{}
	na, nb := norm(a), norm(b)
	for i := range 3 {
		sum[i], diff[i] = a[i]/na+b[i]/nb, a[i]/na-b[i]/nb
	}
	ns := norm(sum)
	dot := 0.0
	for i := range 3 {
		dot += sum[i] * diff[i] / ns / ns
	}
	for i := range 3 {
		diff[i] -= dot * sum[i]
	}
	nd := norm(diff)
	var u, v [3]float64
	for i := range 3 {
		u[i] = (sum[i]/ns + diff[i]/nd) / math.Sqrt2
		v[i] = (sum[i]/ns - diff[i]/nd) / math.Sqrt2
	}
	w := cross(u, v)
	return [9]float64{u[0], v[0], w[0], u[1], v[1], w[1], u[2], v[2], w[2]}
}

func norm(a [3]float64) float64 { return math.Sqrt(a[0]*a[0] + a[1]*a[1] + a[2]*a[2]) }

func cross(a, b [3]float64) [3]float64 {
	return [3]float64{a[1]*b[2] - a[2]*b[1], a[2]*b[0] - a[0]*b[2], a[0]*b[1] - a[1]*b[0]}
}
