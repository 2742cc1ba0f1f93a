package hide

import (
	"math"
	"slices"
)

// withHoles makes the inner rings of an outline follow a review: the ring of a
// hole that was rejected, redrawn or renamed goes, the ring of one that is confirmed or
// added comes if it lies wholly in the leather. A hole that meets the edge stays a
// defect only. The outline that comes in is not changed.
func withHoles(outline Polygon, was, now []Defect) Polygon {
	holes := slices.Clone(outline.Holes)
	for _, d := range was {
		if d.Kind != Hole || d.Status == Rejected || stillHole(d, now) {
			continue
		}
		holes = slices.DeleteFunc(holes, func(r Ring) bool { return sameHole(r, d.Geometry) })
	}
	for _, d := range now {
		if d.Kind != Hole || d.Status != Confirmed && d.Status != Added {
			continue
		}
		for _, p := range d.Geometry {
			if !slices.ContainsFunc(holes, func(r Ring) bool { return boxOf(r).meets(boxOf(p.Outer)) }) && inside(outline.Outer, p.Outer) {
				holes = append(holes, turned(p.Outer, false))
			}
		}
	}
	outline.Holes = holes
	return outline
}

// changed is the area after a review that made it larger by d; u is the standard
// uncertainty of what the review drew. The budget gets a line of its own, so that its
// parts still make up the whole (JCGM 100:2008, 5.1.2).
func (a Area) changed(d, u MM2) Area {
	a.Value += d
	if u > 0 {
		a.Budget = append(slices.Clone(a.Budget), BudgetPart{Source: "review", Quantity: "holes drawn by a reviewer", Value: 0, Unit: "mm²", InputU: float64(u),
			Distribution: "rectangular", Type: "B", Sensitivity: 1, U: u, Text: "as sure as a hand draws on the picture"})
		a.U = MM2(math.Hypot(float64(a.U), float64(u)))
	}
	return a
}

// handHoles is the standard uncertainty of the area of all holes that a review drew
// or drew anew.
func handHoles(was, now []Defect) MM2 {
	var square float64
	for _, d := range now {
		if d.Kind == Hole && (d.Status == Confirmed || d.Status == Added) && !stillHole(d, was) {
			square += float64(d.AreaU) * float64(d.AreaU)
		}
	}
	return MM2(math.Sqrt(square))
}

// stillHole tells whether the review left a hole where and as it was.
func stillHole(d Defect, now []Defect) bool {
	return slices.ContainsFunc(now, func(n Defect) bool {
		return n.ID == d.ID && n.Kind == Hole && n.Status != Rejected && slices.EqualFunc(n.Geometry, d.Geometry,
			func(a, b Polygon) bool { return slices.Equal(a.Outer, b.Outer) })
	})
}

// alike is the least share that the boxes, and the areas, of a ring and a defect
// have in common when they are one hole. They come from one edge, simplified
// at most: 0.5 is far from 1 and from the 0 of two different holes.
const alike = 0.5

func sameHole(r Ring, s Shape) bool {
	return slices.ContainsFunc(s, func(p Polygon) bool {
		a, b := boxOf(r), boxOf(p.Outer)
		ra, pa := math.Abs(float64(r.SignedArea())), math.Abs(float64(p.Outer.SignedArea()))
		return a.common(b) > alike && math.Min(ra, pa) > alike*math.Max(ra, pa)
	})
}

// box is a bounding box.
type box struct{ min, max Point }

func boxOf(r Ring) box {
	b := box{Point{MM(math.Inf(1)), MM(math.Inf(1))}, Point{MM(math.Inf(-1)), MM(math.Inf(-1))}}
	for _, p := range r {
		b.min = Point{min(b.min.X, p.X), min(b.min.Y, p.Y)}
		b.max = Point{max(b.max.X, p.X), max(b.max.Y, p.Y)}
	}
	return b
}

func (b box) meets(o box) bool {
	return b.min.X <= o.max.X && o.min.X <= b.max.X && b.min.Y <= o.max.Y && o.min.Y <= b.max.Y
}

func (b box) area() float64 { return float64(b.max.X-b.min.X) * float64(b.max.Y-b.min.Y) }

// common is the area of both boxes over that of either.
func (b box) common(o box) float64 {
	if !b.meets(o) {
		return 0
	}
	both := box{Point{max(b.min.X, o.min.X), max(b.min.Y, o.min.Y)}, Point{min(b.max.X, o.max.X), min(b.max.Y, o.max.Y)}}.area()
	return both / (b.area() + o.area() - both)
}

// inside tells whether every vertex of r lies in the ring around, by the
// even-odd rule.
func inside(around, r Ring) bool {
	return len(r) > 2 && !slices.ContainsFunc(r, func(p Point) bool { return !contains(around, p) })
}

func contains(r Ring, p Point) bool {
	in := false
	for i, a := range r {
		b := r[(i+1)%len(r)]
		if (a.Y > p.Y) != (b.Y > p.Y) && float64(p.X) < float64(b.X-a.X)*float64(p.Y-a.Y)/float64(b.Y-a.Y)+float64(a.X) {
			in = !in
		}
	}
	return in
}
