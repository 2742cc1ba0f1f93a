package detect

import (
	"math"

	"gonum.org/v1/gonum/dsp/fourier"
	"gonum.org/v1/gonum/mat"

	"hidechart/hide"
	"hidechart/pix"
)

// lieBand leaves of a map of logarithms (NaN: not known) what waves of 40 to
// 400 mm make: a cubic surface for the lamps is taken off, then the mean around,
// then grain is averaged.
func lieBand(logs []float64, g pix.Grid) ([]float64, bool) {
	fit, ok := lieCubic(logs, g)
	if !ok {
		return nil, false
	}
	rest, seen := newField(g.Width, g.Height), make([]bool, len(logs))
	for i, v := range logs {
		if seen[i] = !math.IsNaN(v); seen[i] {
			rest.v[i] = float32(v - fit[i])
		}
	}
	wide, _, errW := rest.localMean(seen, lieWideMM/lieCellMM)
	fine, _, errF := rest.localMean(seen, lieFineMM/lieCellMM)
	if errW != nil || errF != nil {
		return nil, false
	}
	out := make([]float64, len(logs))
	for i := range out {
		if seen[i] {
			out[i] = float64(fine.v[i] - wide.v[i])
		}
	}
	return out, true
}

// lieCubic is the least-squares cubic surface through the known cells, with Tukey's weights
// (4.685 deviations: 95 % efficiency, Huber 1981).
func lieCubic(logs []float64, g pix.Grid) ([]float64, bool) {
	const n, rounds, reach = 10, 4, 4.685
	basis := func(i int) [n]float64 {
		x, y := 2*float64(i%g.Width)/float64(g.Width)-1, 2*float64(i/g.Width)/float64(g.Height)-1
		return [n]float64{1, x, y, x * x, x * y, y * y, x * x * x, x * x * y, x * y * y, y * y * y}
	}
	var at []int
	for i, v := range logs {
		if !math.IsNaN(v) {
			at = append(at, i)
		}
	}
	if len(at) < 20*n { // a hide of 0.02 m² says nothing of waves
		return nil, false
	}
	weight := make([]float64, len(at))
	for k := range weight {
		weight[k] = 1
	}
	out := make([]float64, len(logs))
	for range rounds {
		var sums [n * n]float64
		var right [n]float64
		for k, i := range at {
			q := basis(i)
			for a := range n {
				right[a] += weight[k] * q[a] * logs[i]
				for b := a; b < n; b++ {
					sums[a*n+b] += weight[k] * q[a] * q[b]
				}
			}
		}
		var c mat.Cholesky
		x := mat.NewVecDense(n, nil)
		if !c.Factorize(mat.NewSymDense(n, sums[:])) || c.SolveVecTo(x, mat.NewVecDense(n, right[:])) != nil {
			return nil, false
		}
		off := make([]float64, len(at))
		for k, i := range at {
			q := basis(i)
			out[i] = 0
			for a := range n {
				out[i] += x.AtVec(a) * q[a]
			}
			off[k] = logs[i] - out[i]
		}
		limit := reach * max(spread(off), 0.01) // 1 %: the lamps' own shape strays that far from a cubic
		for k := range weight {
			u := off[k] / limit
			weight[k] = 0
			if math.Abs(u) < 1 {
				weight[k] = (1 - u*u) * (1 - u*u)
			}
		}
	}
	return out, true
}

// measure finds the highest wave, its crest, and the steepest place beside it.
func (l *Lie) measure(slopes []lieSlope, g pix.Grid) {
	height := heightOf(slopes, g, lieLowest, int(lieWindowMM/lieCellMM))
	l.Shrink = lieShrink(slopes)
	seen := make([]bool, len(height))
	for i := range seen {
		for _, s := range slopes {
			seen[i] = seen[i] || s.seen[i]
		}
	}
	reach := int(lieWindowMM / lieCellMM / 2)
	lo := lieExtreme(height, seen, g.Width, g.Height, reach, -1)
	hi := lieExtreme(height, seen, g.Width, g.Height, reach, 1)
	middle := 0
	for i := range height {
		if h := hide.MM(hi[i] - lo[i]); seen[i] && h > l.Height {
			l.Height, middle = h, i
		}
	}
	crest, x0, y0 := math.Inf(-1), middle%g.Width, middle/g.Width
	for y := max(0, y0-reach); y <= min(g.Height-1, y0+reach); y++ {
		for x := max(0, x0-reach); x <= min(g.Width-1, x0+reach); x++ {
			i := y*g.Width + x
			if !seen[i] {
				continue
			}
			if height[i] > crest {
				crest = height[i]
				l.At = g.ToTable(pix.Point{X: hide.PX(x), Y: hide.PX(y)})
			}
			for _, s := range slopes {
				l.Steepest = max(l.Steepest, math.Atan(math.Abs(s.v[i]))*180/math.Pi)
			}
		}
	}
}

// lieShrink is the mean of half the square of the slope: what a surface seen from above
// loses, √(1 + s²) − 1, for slopes up to 20° to 3 %. Lights on one axis share it.
func lieShrink(slopes []lieSlope) float64 {
	sum, n := 0.0, 0
	for i := range slopes[0].v {
		var along [2]float64
		var lights [2]float64
		for _, s := range slopes {
			if !s.seen[i] {
				continue
			}
			along[0], lights[0] = along[0]+s.v[i]*s.dx, lights[0]+math.Abs(s.dx)
			along[1], lights[1] = along[1]+s.v[i]*s.dy, lights[1]+math.Abs(s.dy)
		}
		if lights == [2]float64{} {
			continue
		}
		n++
		for k, a := range along {
			if lights[k] > 0 {
				sum += a / lights[k] * a / lights[k] / 2
			}
		}
	}
	return sum / float64(max(n, 1))
}

// lieExtreme is the largest (sign 1) or smallest (-1) known value within reach cells of each, in a square.
func lieExtreme(v []float64, seen []bool, w, h, reach int, sign float64) []float64 {
	src := make([]float64, len(v))
	for i := range v {
		src[i] = math.Inf(-1)
		if seen[i] {
			src[i] = sign * v[i]
		}
	}
	pass := func(src []float64, n, lines, step, jump int) []float64 {
		out := make([]float64, len(src))
		for l := range lines {
			for i := range n {
				most := math.Inf(-1)
				for j := max(0, i-reach); j <= min(n-1, i+reach); j++ {
					most = max(most, src[l*jump+j*step])
				}
				out[l*jump+i*step] = most
			}
		}
		return out
	}
	out := pass(pass(src, w, h, 1, w), h, w, w, 1)
	for i := range out {
		out[i] *= sign
	}
	return out
}

// lieLowest is the wave number, 1/mm, below which a direction counts as not
// seen: a wave of 1.2 m along a light, or one of 400 mm that runs across it to 20°.
const lieLowest = 2 * math.Pi / 1200

// heightOf integrates slopes to height, mm, by least squares over all lights in the
// frequency plane (Frankot & Chellappa 1988, with directional derivatives): at each
// wave vector w the height that Σ(i·(w·d)·H − S)² + lowest²·H² makes least. The margin, in pixels, keeps one end's waves
// from the other.
func heightOf(slopes []lieSlope, g pix.Grid, lowest float64, margin int) []float64 {
	w, h := even(g.Width+margin), even(g.Height+margin)
	sum, weight := make([]complex128, w*h), make([]float64, w*h)
	freq := func(k, n int) float64 {
		if k > n/2 {
			k -= n
		}
		return 2 * math.Pi * float64(k) / (float64(n) * float64(g.MMPerPX))
	}
	for _, s := range slopes {
		c := make([]complex128, w*h)
		for i, v := range s.v {
			c[(i/g.Width)*w+i%g.Width] = complex(v, 0)
		}
		lieTransform(c, w, h, false)
		for i := range c {
			along := freq(i%w, w)*s.dx - freq(i/w, h)*s.dy // rows run down
			sum[i] += c[i] * complex(0, -along)
			weight[i] += along * along
		}
	}
	for i := range sum {
		sum[i] /= complex(weight[i]+lowest*lowest, 0)
	}
	lieTransform(sum, w, h, true)
	out := make([]float64, g.Width*g.Height)
	for i := range out {
		out[i] = real(sum[(i/g.Width)*w+i%g.Width])
	}
	return out
}

func even(n int) int { return n + n%2 }

// lieTransform is the discrete Fourier transform of w × h values, in place.
func lieTransform(c []complex128, w, h int, back bool) {
	across, down := fourier.NewCmplxFFT(w), fourier.NewCmplxFFT(h)
	run := func(f *fourier.CmplxFFT, line []complex128) {
		if back {
			f.Sequence(line, line)
			for i := range line {
				line[i] /= complex(float64(len(line)), 0)
			}
			return
		}
		f.Coefficients(line, line)
	}
	for y := range h {
		run(across, c[y*w:(y+1)*w])
	}
	column := make([]complex128, h)
	for x := range w {
		for y := range h {
			column[y] = c[y*w+x]
		}
		run(down, column)
		for y := range h {
			c[y*w+x] = column[y]
		}
	}
}
