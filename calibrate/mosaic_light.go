package calibrate

import (
	"math"
	"runtime"

	"golang.org/x/sync/errgroup"
	"gonum.org/v1/gonum/mat"

	"hidechart/hide"
	"hidechart/pix"
)

// Balance evens out several photographs of one table taken under one light:
// their exposure and white balance, and the lens's fall-off towards the corners, which
// is the same in all.
type Balance struct {
	Log      [][]float64 // of each photograph and channel, what is added to the logarithm of its light
	FallOff  [2]float64  // the lens's: ln light = a·r² + b·r⁴, r in half diagonals from the middle
	Scatter  float64     // of the photographs against each other afterwards, relative
	Compared int         // places that two photographs show
}

// factor is what light at a distance from the middle is multiplied with.
func (b *Balance) factor(tile, channel int, r float64) float64 {
	r2 := r * r
	return math.Exp(b.Log[tile][channel] - b.FallOff[0]*r2 - b.FallOff[1]*r2*r2)
}

// radius is a pixel's distance from the middle of the lens, in half diagonals.
func (v View) radius(p pix.Point) float64 {
	c := v.Camera
	return math.Hypot(float64(p.X)-c.CX, float64(p.Y)-c.CY) / (math.Hypot(float64(c.Width), float64(c.Height)) / 2)
}

// Constants of the comparison in the overlap.
const (
	// Places every 25 mm: over a hundred in the smallest overlap worth having.
	compareEvery = 25.0
	// The light of a place is the mean over a square of 12 mm, in which a millimetre
	// that two photographs lie apart changes it by under a percent on leather.
	compareSquare = 12.0
	compareLeast  = 100 // light below this, of 65535, is noise
	// Of the fall-off's terms before the overlap is looked at: lenses lose up to two
	// stops in the corners, ln 4 = 1.4, mostly as r².
	fallOffU = 0.7
	// Of a photograph's exposure: automatic ones stray by a stop.
	exposureU = 0.7
	// Places that two photographs show in another light (a highlight, a shadow that
	// the photographer throws) are told by Tukey's weights above this scatter.
	compareFloor = 0.004
)

// compared is a place that two photographs show, one channel.
type compared struct {
	a, b, channel int
	ra, rb        float64
	log           float64 // ln(light of a / light of b)
}

// Even compares the photographs where they lap over each other, at height z
// over the area of the grid, and returns what evens them out by robust least
// squares. pictures are the photographs in linear light (U16), as the views. The brightest
// factor is 1, so that nothing is cut off by it. Without an overlap nothing is
// changed.
func (m Mosaic) Even(pictures []*pix.Exposure, g pix.Grid, z hide.MM) *Balance {
	channels := pictures[0].Channels()
	places := m.compare(pictures, g, z)
	b := &Balance{Log: make([][]float64, len(m)), Compared: len(places) / channels}
	for i := range b.Log {
		b.Log[i] = make([]float64, channels)
	}
	if len(places) > 0 {
		b.fit(places, channels)
	}
	b.normalise()
	return b
}

// compare reads the light at the places that two photographs show.
func (m Mosaic) compare(pictures []*pix.Exposure, g pix.Grid, z hide.MM) []compared {
	every := g.Scaled(compareEvery)
	lines := make([][]compared, every.Height)
	inParallel(every.Height, func(y int) {
		shares := make([]float64, len(m))
		for x := range every.Width {
			p := every.ToTable(pix.Point{X: hide.PX(x), Y: hide.PX(y)})
			m.shares(p, z, shares)
			for a := range m {
				for b := a + 1; b < len(m); b++ {
					if shares[a] > 0 && shares[b] > 0 {
						lines[y] = append(lines[y], m.pair(pictures, a, b, p, z)...)
					}
				}
			}
		}
	})
	var out []compared
	for _, l := range lines {
		out = append(out, l...)
	}
	return out
}

func (m Mosaic) pair(pictures []*pix.Exposure, a, b int, p hide.Point, z hide.MM) []compared {
	pa, pb := m[a].Project(p.X, p.Y, z), m[b].Project(p.X, p.Y, z)
	la, okA := meanAt(pictures[a], pa, compareSquare/2/float64(m[a].Resolution(p)))
	lb, okB := meanAt(pictures[b], pb, compareSquare/2/float64(m[b].Resolution(p)))
	if !okA || !okB {
		return nil
	}
	out := make([]compared, len(la))
	for c := range la {
		out[c] = compared{a: a, b: b, channel: c, ra: m[a].radius(pa), rb: m[b].radius(pb), log: math.Log(la[c] / lb[c])}
	}
	return out
}

// meanAt is the mean light of a square in each channel; ok is false where some of it is cut off, too dark
// or outside.
func meanAt(im *pix.Exposure, at pix.Point, half float64) (mean []float64, ok bool) {
	w, h, ch := im.Width(), im.Height(), im.Channels()
	x0, x1 := int(math.Ceil(float64(at.X)-half)), int(math.Floor(float64(at.X)+half))
	y0, y1 := int(math.Ceil(float64(at.Y)-half)), int(math.Floor(float64(at.Y)+half))
	if x0 < 0 || y0 < 0 || x1 >= w || y1 >= h || x1 < x0 || y1 < y0 {
		return nil, false
	}
	mean = make([]float64, ch)
	for y := y0; y <= y1; y++ {
		for i := x0 * ch; i < (x1+1)*ch; i++ {
			light := im.Light(i/ch, y, i%ch)
			if light >= clippedLevel {
				return nil, false
			}
			mean[i%ch] += float64(light)
		}
	}
	n := float64((x1 - x0 + 1) * (y1 - y0 + 1))
	for c := range mean {
		mean[c] /= n
		if mean[c] < compareLeast {
			return nil, false
		}
	}
	return mean, true
}

// fit finds the factors: unknowns are each photograph's exposure in each
// channel, then the two terms of the fall-off.
func (b *Balance) fit(places []compared, channels int) {
	n := len(b.Log)*channels + 2
	x := mat.NewVecDense(n, nil)
	scatter := math.Inf(1) // the first round takes all places alike
	const rounds = 8       // the weights change by under 1 % after five
	for range rounds {
		a, g := mat.NewSymDense(n, nil), mat.NewVecDense(n, nil)
		noise := max(min(scatter, 0.1), compareFloor)
		for i := range n {
			sd := exposureU
			if i >= n-2 {
				sd = fallOffU
			}
			a.SetSym(i, i, noise*noise/(sd*sd))
		}
		for _, p := range places {
			w := tukey(p.residual(x, channels), outlierReach*max(scatter, compareFloor))
			at, d := p.row(n, channels)
			for i := range at {
				g.SetVec(at[i], g.AtVec(at[i])+w*d[i]*p.log)
				for k := i; k < len(at); k++ {
					a.SetSym(at[i], at[k], a.At(at[i], at[k])+w*d[i]*d[k])
				}
			}
		}
		var c mat.Cholesky
		if !c.Factorize(a) || c.SolveVecTo(x, g) != nil {
			return
		}
		rest := make([]float64, len(places))
		for i, p := range places {
			rest[i] = math.Abs(p.residual(x, channels))
		}
		scatter = 1.4826 * median(rest)
	}
	for i := range b.Log {
		for c := range b.Log[i] {
			b.Log[i][c] = -x.AtVec(i*channels + c)
		}
	}
	b.FallOff = [2]float64{x.AtVec(n - 2), x.AtVec(n - 1)}
	b.Scatter = scatter
}

func tukey(r, reach float64) float64 {
	if math.IsInf(reach, 1) {
		return 1
	}
	u := r / reach
	if math.Abs(u) >= 1 {
		return 0
	}
	return (1 - u*u) * (1 - u*u)
}

// row is a place's derivatives by the unknowns that it depends on, ascending.
func (p compared) row(n, channels int) (at [4]int, d [4]float64) {
	a2, b2 := p.ra*p.ra, p.rb*p.rb
	return [4]int{p.a*channels + p.channel, p.b*channels + p.channel, n - 2, n - 1}, [4]float64{1, -1, a2 - b2, a2*a2 - b2*b2}
}

func (p compared) residual(x *mat.VecDense, channels int) float64 {
	at, d := p.row(x.Len(), channels)
	r := p.log
	for i := range at {
		r -= d[i] * x.AtVec(at[i])
	}
	return r
}

// normalise makes the largest factor 1, over all photographs, channels and
// distances to a corner.
func (b *Balance) normalise() {
	most := math.Inf(-1)
	for i := range b.Log {
		for c := range b.Log[i] {
			for k := range 21 { // twentieths of the way to the corner
				most = max(most, math.Log(b.factor(i, c, float64(k)/20)))
			}
		}
	}
	for i := range b.Log {
		for c := range b.Log[i] {
			b.Log[i][c] -= most
		}
	}
}

// inParallel calls do for 0 to n-1 on all cores; do writes only what is its own.
func inParallel(n int, do func(i int)) {
	var cores errgroup.Group
	cores.SetLimit(runtime.GOMAXPROCS(0))
	for i := range n {
		cores.Go(func() error {
			do(i)
			return nil
		})
	}
	_ = cores.Wait() // no task fails
}
