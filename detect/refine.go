package detect

import (
	"math"

	"hidechart/hide"
)

// refineWindow is how many pieces of a line, to either side, are averaged before
// its middle is sought there: some 25 mm, over which a scar is straight.
const refineWindow = 6

// refined moves each vertex to the middle of what stands out beside it: the search
// ties a line to its pixels, 1 to 4 mm large. Profiles are averaged along the line
// before they are squared, so that grain cancels out and the mark does not.
func (s *surface) refined(line []hide.Point) []hide.Point {
	n := len(line) - 1
	energy := make([][]float64, n)
	for k := range energy {
		energy[k] = make([]float64, profileSize())
	}
	for _, l := range s.lit {
		if l.light == hide.Back {
			continue
		}
		sum := make([][]float64, n+1) // running sums of the pieces' profiles
		sum[0] = make([]float64, profileSize())
		for k := range n {
			p := s.profile(l.tone, line[k:k+2])
			base := outer(p)
			for j := range p {
				p[j] += sum[k][j] - base
			}
			sum[k+1] = p
		}
		for k := range n {
			from, to := max(k-refineWindow, 0), min(k+refineWindow+1, n)
			for j := range energy[k] {
				v := (sum[to][j] - sum[from][j]) / float64(to-from)
				energy[k][j] += v * v
			}
		}
	}
	off := make([]float64, len(line))
	for k := range off {
		a, b := middleOf(energy[max(k-1, 0)]), middleOf(energy[min(k, n-1)])
		off[k] = (a + b) / 2 * profileStep
	}
	off = running(running(off))
	out := make([]hide.Point, len(line))
	for k := range line {
		out[k] = besideVertex(line, k, hide.MM(off[k]))
	}
	return out
}

// besideVertex is vertex k moved to the left of the line.
func besideVertex(line []hide.Point, k int, by hide.MM) hide.Point {
	a, b := line[max(k-1, 0)], line[min(k+1, len(line)-1)]
	dx, dy := float64(b.X-a.X), float64(b.Y-a.Y)
	n := math.Max(math.Hypot(dx, dy), 1e-9)
	return hide.Point{X: line[k].X - by*hide.MM(dy/n), Y: line[k].Y + by*hide.MM(dx/n)}
}
