package calibrate

import (
	"cmp"
	"slices"

	"hidechart/hide"
)

const (
	// outerVertices are what is kept of the outer edge where an area's derivatives are
	// taken: they are smooth, and a ring of 200 vertices has them to 1 %.
	outerVertices = 200
	// The largest hole keeps 64 vertices, the next half as many, none fewer than 8, which
	// has an area to a tenth. Ten holes, the largest: those after them are a thousandth of a
	// hide each at most. With the seams that makes 188.
	firstHole, leastHole, mostHoles = 64, 8, 10
)

// keyholed joins a polygon's rings to one whose signed area is the polygon's: from the
// outer edge's first vertex to each hole and back on the same line, which cancels.
// It has 64 to mostVertices vertices, so densified leaves it as it is.
func keyholed(p hide.Polygon) hide.Ring {
	p = p.Oriented()
	outer := thinned(p.Outer, outerVertices)
	if len(outer) < mostVertices/2 {
		outer = densified(outer)
	}
	holes := slices.Clone(p.Holes)
	slices.SortStableFunc(holes, func(a, b hide.Ring) int { return cmp.Compare(a.SignedArea(), b.SignedArea()) }) // clockwise: most negative first
	out := slices.Clone(outer)
	for k, h := range holes[:min(len(holes), mostHoles)] {
		if len(h) < 3 {
			continue
		}
		h = thinned(h, max(leastHole, firstHole>>k))
		out = append(append(append(out, outer[0]), h...), h[0])
	}
	return out
}

// thinned keeps at most n vertices of a ring, evenly.
func thinned(r hide.Ring, n int) hide.Ring {
	if len(r) <= n {
		return r
	}
	out := make(hide.Ring, n)
	for i := range out {
		out[i] = r[i*len(r)/n]
	}
	return out
}
