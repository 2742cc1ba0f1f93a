package detect

import (
	"math"
	"slices"

	"hidechart/hide"
	"hidechart/pix"
)

// filled is true on the pixels whose centre lies in the ring (even-odd).
func filled(r hide.Ring, g pix.Grid) []bool {
	out := make([]bool, g.Width*g.Height)
	eachRun(r, g, func(y, from, to int) {
		for x := from; x < to; x++ {
			out[y*g.Width+x] = true
		}
	})
	return out
}

// eachRun calls work for every run of pixels of a row whose centres lie in the ring, the first of
// them and the one after the last, row by row.
func eachRun(r hide.Ring, g pix.Grid, work func(y, from, to int)) {
	for y, xs := range rowCrossings(r, g) {
		slices.Sort(xs)
		for k := 0; k+1 < len(xs); k += 2 {
			if from, to := max(0, int(math.Ceil(xs[k]))), min(g.Width, int(math.Ceil(xs[k+1]))); from < to {
				work(y, from, to)
			}
		}
	}
}

// rowCrossings lists for every row where the ring crosses the line through its pixels' centres. An
// edge is compared with the rows that it spans and one more at each end.
func rowCrossings(r hide.Ring, g pix.Grid) [][]float64 {
	out := make([][]float64, g.Height)
	for i, a := range r {
		b := r[(i+1)%len(r)]
		upper, lower := g.ToRaster(a).Y, g.ToRaster(b).Y
		if upper > lower {
			upper, lower = lower, upper
		}
		for y := max(0, int(math.Floor(float64(upper)))-1); y < g.Height && float64(y) <= float64(lower)+1; y++ {
			at := g.ToTable(pix.Point{Y: hide.PX(y)}).Y
			if (a.Y > at) != (b.Y > at) {
				x := a.X + (at-a.Y)/(b.Y-a.Y)*(b.X-a.X)
				out[y] = append(out[y], float64(g.ToRaster(hide.Point{X: x, Y: at}).X))
			}
		}
	}
	return out
}
