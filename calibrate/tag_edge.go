package calibrate

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"hidechart/pix"
)

// edgeFit is one edge of a tag's black square as a shallow parabola: the point
// at position s (-1 to 1) lies at mid + s·half·along + offset(s)·out.
type edgeFit struct {
	mid, along, out [2]float64
	half            float64    // half the edge's length, px
	o               [3]float64 // offset(s) = o0 + o1·s + o2·(s² - 1/3)
	blur            float64    // standard deviation of the blur, px
	dark, light     float64    // linear light on both sides, 0 to 65535
	endVar          float64    // variance of the offset at the ends, px²
	good            bool
}

// Measures of the edge fit.
const (
	// The standard deviation of a pixel's own square, 1/√12 px: no edge is sharper,
	// and one drawn in black and white only lies anywhere in such a square.
	blurLeastPX = 0.2887
	// The band to each side of the edge, as a share of a cell: the next cells
	// begin at 1, and blur must not bring them in.
	bandCells = 0.45
	// Beyond 7 px from an edge there is nothing but level.
	bandMostPX  = 7
	bandLeastPX = 2.5
	// Left out at each end, px: there the neighbouring edge's blur comes in.
	endPX = 3
	// A band must hold this many times the parameters' number of pixels.
	leastPixels = 60
	// Step from black to white below which an edge is not told from noise:
	// 1 % of full scale is 2.5 grey levels of coded light near black.
	leastStep = 0.01 * full16
	// The edge is cut into parts; a part that wants to lie this far beside the
	// curve is covered (a hide's edge, a finger), as noise moves a part by 0.05 px.
	edgeParts     = 8
	partAsidePX   = 0.25
	mostBadParts  = 3
	tukeyReach    = 4.685 // 95 % efficiency (Huber 1981)
	edgeLevelTerm = 8
	flatBeyond    = 5.0 // deviations of the blur from the edge
	// The blur changes by no more than this factor in a step: on a sharp edge along the
	// rows a step to the least blur makes the next one leap back, for ever.
	blurStep = 1.6
	// Radial terms bend an edge of length L by 6·k1·(r/f)/f · L²/8. With
	// k1 = 0.15, r/f = 0.6 and f = the picture's longer side this is 0.07 L²/side:
	// the prior's standard deviation. Short edges are thus kept straight.
	bendPrior = 0.07
)

// fitEdge fits edge k, from corner k to k+1, to the pixels themselves: two levels
// that may slope along the edge, joined by a Gaussian blur (an error function
// across), by robust Gauss-Newton. Nothing is resampled, so nothing is shifted.
func fitEdge(linear *pix.Image, corners [4][2]float64, k int) edgeFit {
	e, cell := frameEdge(corners, k)
	reach := min(max(bandCells*cell, bandLeastPX), bandMostPX)
	px := bandPixels(linear, e, reach)
	if len(px) < leastPixels || !e.start(px, reach) {
		return e
	}
	bend := bendPrior * 4 * e.half * e.half / float64(max(linear.Width(), linear.Height()))
	skip := [edgeParts]bool{}
	for round := range 2 {
		if !e.descend(px, skip, bend) {
			return e
		}
		bad := e.badParts(px, &skip)
		if bad > mostBadParts {
			return e
		}
		if bad == 0 || round == 1 {
			break
		}
	}
	e.good = e.light-e.dark > leastStep && e.blur < reach && math.Abs(e.o[0])+math.Abs(e.o[1]) < reach
	return e
}

// frameEdge lays the edge's frame through two corners; cell is the width of a
// cell across it, px.
func frameEdge(corners [4][2]float64, k int) (e edgeFit, cell float64) {
	a, b := corners[k], corners[(k+1)%4]
	e.mid = [2]float64{(a[0] + b[0]) / 2, (a[1] + b[1]) / 2}
	e.half = math.Hypot(b[0]-a[0], b[1]-a[1]) / 2
	if e.half == 0 {
		return e, 0
	}
	e.along = [2]float64{(b[0] - a[0]) / 2 / e.half, (b[1] - a[1]) / 2 / e.half}
	e.out = [2]float64{e.along[1], -e.along[0]}
	c, d := corners[(k+2)%4], corners[(k+3)%4]
	far := ((c[0]+d[0])/2-e.mid[0])*e.out[0] + ((c[1]+d[1])/2-e.mid[1])*e.out[1]
	if far > 0 {
		e.out = [2]float64{-e.out[0], -e.out[1]}
	}
	return e, math.Abs(far) / TagCells
}

// bandPixel is a pixel in the edge's frame.
type bandPixel struct{ s, d, v float64 } // s: -1 to 1 along; d: px outward

func bandPixels(linear *pix.Image, e edgeFit, reach float64) []bandPixel {
	if e.half <= endPX {
		return nil
	}
	w, h := linear.Width(), linear.Height()
	data := linear.Uint16s()
	across := math.Abs(e.out[0])*(reach+1) + math.Abs(e.along[0])*e.half
	down := math.Abs(e.out[1])*(reach+1) + math.Abs(e.along[1])*e.half
	x0, x1 := max(0, int(e.mid[0]-across)), min(w-1, int(e.mid[0]+across)+1)
	y0, y1 := max(0, int(e.mid[1]-down)), min(h-1, int(e.mid[1]+down)+1)
	var out []bandPixel
	for y := y0; y <= y1; y++ {
		for x := x0; x <= x1; x++ {
			dx, dy := float64(x)-e.mid[0], float64(y)-e.mid[1]
			t, d := dx*e.along[0]+dy*e.along[1], dx*e.out[0]+dy*e.out[1]
			if math.Abs(d) <= reach && math.Abs(t) <= e.half-endPX {
				out = append(out, bandPixel{s: t / e.half, d: d, v: float64(data[y*w+x])})
			}
		}
	}
	return out
}

// start sets the levels from the outer thirds of the band, a pixel wide at least
// (an edge along the rows has none in a narrower strip at some offsets), and the
// offset to where the mean light says; false when the outside is not the lighter side.
func (e *edgeFit) start(px []bandPixel, reach float64) bool {
	var in, out []float64
	sum, far := 0.0, min(reach*2/3, reach-1)
	for _, p := range px {
		sum += p.v
		switch {
		case p.d < -far:
			in = append(in, p.v)
		case p.d > far:
			out = append(out, p.v)
		}
	}
	if len(in) < 5 || len(out) < 5 {
		return false
	}
	e.dark, e.light, e.blur = median(in), median(out), 0.8 // 0.8 px: a sharp photograph
	if e.light-e.dark < leastStep {
		return false
	}
	share := (sum/float64(len(px)) - e.dark) / (e.light - e.dark)
	e.o = [3]float64{min(max(reach*(1-2*share), -reach/2), reach/2), 0, 0}
	return true
}

func (e edgeFit) offset(s float64) float64 { return e.o[0] + e.o[1]*s + e.o[2]*(s*s-1.0/3) }

func part(s float64) int { return min(edgeParts-1, int((s+1)/2*edgeParts)) }

// descend runs damped Gauss-Newton with Tukey's weights. Parameters: o0, o1,
// o2, blur, dark, light and the slopes of both levels along the edge.
func (e *edgeFit) descend(px []bandPixel, skip [edgeParts]bool, bend float64) bool {
	v := [edgeLevelTerm]float64{e.o[0], e.o[1], e.o[2], e.blur, e.dark, e.light, 0, 0}
	const steps, whole = 20, 6
	r := edgeResiduals{all: make([]float64, 0, len(px)/noiseEvery+1)}
	for step := range steps {
		noise, ok := r.noise(px, skip, v)
		if !ok {
			return false
		}
		reach := tukeyReach * noise
		if step < 2 {
			reach *= 4 // far starts must not lose the edge
		}
		a, g := normalEdge(px, skip, &v, reach)
		// the prior on the bend, in units of the pixels' noise
		a.SetSym(2, 2, a.At(2, 2)+noise*noise/(bend*bend))
		g[2] -= noise * noise / (bend * bend) * v[2]
		var c mat.Cholesky
		if !c.Factorize(a) {
			return false
		}
		delta := mat.NewVecDense(edgeLevelTerm, nil)
		if err := c.SolveVecTo(delta, mat.NewVecDense(edgeLevelTerm, g[:])); err != nil && step == 0 {
			return false
		}
		before := v
		for i := range v {
			d := delta.AtVec(i)
			if i < 4 {
				d = min(max(d, -1), 1)
			}
			if step >= whole { // a stair of black and white makes whole steps swing about the answer
				d /= 2
			}
			v[i] += d
		}
		v[3] = min(max(v[3], blurLeastPX, before[3]/blurStep), bandMostPX, before[3]*blurStep)
		moved := 0.0
		for i := range 4 { // after the limits: a blur held at one is settled
			moved = max(moved, math.Abs(v[i]-before[i]))
		}
		if moved < 1e-3 {
			e.take(v, &c, noise)
			return true
		}
		if step == steps-1 && moved < 0.02 {
			e.take(v, &c, noise)
			return true
		}
	}
	return false
}

func (e *edgeFit) take(v [edgeLevelTerm]float64, c *mat.Cholesky, noise float64) {
	e.o, e.blur, e.dark, e.light = [3]float64{v[0], v[1], v[2]}, v[3], v[4], v[5]
	var inv mat.SymDense
	if err := c.InverseTo(&inv); err != nil {
		e.endVar = 1
		return
	}
	ends := 0.0
	for _, s := range []float64{-1, 1} {
		q := [3]float64{1, s, 2.0 / 3}
		for i := range q {
			for k := range q {
				ends += q[i] * q[k] * inv.At(i, k) / 2
			}
		}
	}
	e.endVar = ends * noise * noise
	if e.blur <= blurLeastPX {
		e.endVar += drawnVar
	}
}

// edgeLight is the model's light at a pixel. A pixel's own square is part of the blur.
type edgeLight struct {
	value       float64
	level       int     // the term of the level that alone is there, 4 dark or 5 light; 0 at the edge
	z, up       float64 // at the edge: deviations of the blur from it, share of the light side
	dark, light float64
}

func edgeModel(v *[edgeLevelTerm]float64, p bandPixel) edgeLight {
	z := (p.d - v[0] - v[1]*p.s - v[2]*(p.s*p.s-1.0/3)) / v[3]
	dark, light := v[4]+v[6]*p.s, v[5]+v[7]*p.s
	switch { // four in five pixels: the error function is 0 or 1 there to 3e-7
	case z > flatBeyond:
		return edgeLight{value: light, level: 5}
	case z < -flatBeyond:
		return edgeLight{value: dark, level: 4}
	}
	up := 0.5 * math.Erfc(-z/math.Sqrt2)
	return edgeLight{dark + (light-dark)*up, 0, z, up, dark, light}
}

// gradient of the light at the edge by the parameters.
func (l *edgeLight) gradient(v *[edgeLevelTerm]float64, s float64) [edgeLevelTerm]float64 {
	bell := math.Exp(-l.z*l.z/2) / math.Sqrt(2*math.Pi) * (l.light - l.dark) / v[3]
	return [edgeLevelTerm]float64{-bell, -bell * s, -bell * (s*s - 1.0/3), -bell * l.z, 1 - l.up, l.up, (1 - l.up) * s, l.up * s}
}

func normalEdge(px []bandPixel, skip [edgeParts]bool, v *[edgeLevelTerm]float64, reach float64) (*mat.SymDense, [edgeLevelTerm]float64) {
	var a [edgeLevelTerm][edgeLevelTerm]float64
	var g [edgeLevelTerm]float64
	for _, p := range px {
		if skip[part(p.s)] {
			continue
		}
		m := edgeModel(v, p)
		r := p.v - m.value
		u := r / reach
		if math.Abs(u) >= 1 {
			continue
		}
		w := (1 - u*u) * (1 - u*u)
		if i := m.level; i > 0 { // of a level only it and its slope are told
			g[i] += w * r
			g[i+2] += w * p.s * r
			a[i][i] += w
			a[i][i+2] += w * p.s
			a[i+2][i+2] += w * p.s * p.s
			continue
		}
		grad := m.gradient(v, p.s)
		for i := range grad {
			by := w * grad[i]
			g[i] += by * r
			for k := i; k < edgeLevelTerm; k++ {
				a[i][k] += by * grad[k]
			}
		}
	}
	s := mat.NewSymDense(edgeLevelTerm, nil)
	for i := range a {
		for k := i; k < edgeLevelTerm; k++ {
			s.SetSym(i, k, a[i][k])
		}
		s.SetSym(i, i, s.At(i, i)*(1+1e-9)+1e-12) // keeps a flat band solvable
	}
	return s, g
}

// badParts marks the parts that the curve does not fit: each wants to lie beside
// it, by one Gauss-Newton step of its own, or shows no step in light.
func (e edgeFit) badParts(px []bandPixel, skip *[edgeParts]bool) int {
	var num, den [edgeParts]float64
	v := [edgeLevelTerm]float64{e.o[0], e.o[1], e.o[2], e.blur, e.dark, e.light}
	for _, p := range px {
		m := edgeModel(&v, p)
		if m.level > 0 {
			continue // nothing of where the edge is
		}
		by := m.gradient(&v, p.s)[0]
		num[part(p.s)] += by * (p.v - m.value)
		den[part(p.s)] += by * by
	}
	bad, aside := 0, partAsidePX
	if e.blur <= blurLeastPX { // a drawn edge goes in steps of a pixel
		aside += 0.5
	}
	for i := range skip {
		skip[i] = den[i] > 0 && math.Abs(num[i]/den[i]) > aside
		if skip[i] {
			bad++
		}
	}
	return bad
}

// meet is where two neighbouring edges cross, by Newton's method on their
// parabolas.
func meet(a, b edgeFit) [2]float64 {
	s, t := 1.0, -1.0
	at := func(e edgeFit, s float64) [2]float64 {
		o := e.offset(s)
		return [2]float64{e.mid[0] + s*e.half*e.along[0] + o*e.out[0], e.mid[1] + s*e.half*e.along[1] + o*e.out[1]}
	}
	slope := func(e edgeFit, s float64) [2]float64 {
		o := e.o[1] + 2*e.o[2]*s
		return [2]float64{e.half*e.along[0] + o*e.out[0], e.half*e.along[1] + o*e.out[1]}
	}
	const steps = 6 // the parabolas are nearly straight: three reach round-off
	for range steps {
		p, q, dp, dq := at(a, s), at(b, t), slope(a, s), slope(b, t)
		det := -dp[0]*dq[1] + dp[1]*dq[0]
		if det == 0 {
			break
		}
		ex, ey := q[0]-p[0], q[1]-p[1]
		s += (-ex*dq[1] + ey*dq[0]) / det
		t += (dp[0]*ey - dp[1]*ex) / det
	}
	return at(a, s)
}

// median of any values, 0 of none; v stays as it is.
func median(v []float64) float64 {
	n := len(v)
	if n == 0 {
		return 0
	}
	s := slices.Clone(v)
	pix.SelectRank(s, n/2)
	if n%2 == 1 {
		return s[n/2]
	}
	return (slices.Max(s[:n/2]) + s[n/2]) / 2
}
