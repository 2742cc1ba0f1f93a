package plane

import (
	"math"

	"github.com/peterstace/simplefeatures/rtree"

	"hidechart/hide"
)

// EdgeIndex answers distances to a ring quickly: an R-tree over its segments.
// Safe for use by many at once.
type EdgeIndex struct {
	ring hide.Ring
	tree *rtree.RTree
}

// NewEdgeIndex builds the index of a ring's segments, O(n log n). The ring is
// kept, not copied; do not change it afterwards.
func NewEdgeIndex(r hide.Ring) *EdgeIndex {
	items := make([]rtree.BulkItem, len(r))
	for i, p := range r {
		items[i] = rtree.BulkItem{Box: boxOf(hide.Ring{p, r[(i+1)%len(r)]}), RecordID: i}
	}
	return &EdgeIndex{ring: r, tree: rtree.BulkLoad(items)}
}

// Distance is the distance from a point to the ring, on either side; +Inf for
// an empty ring.
func (x *EdgeIndex) Distance(q hide.Point) hide.MM {
	d, _ := x.nearest(q, q, math.Inf(1))
	return hide.MM(d)
}

// Nearest is the point of the ring next to q and its distance; q itself and
// +Inf for an empty ring.
func (x *EdgeIndex) Nearest(q hide.Point) (hide.Point, hide.MM) {
	d, i := x.nearest(q, q, math.Inf(1))
	if i < 0 {
		return q, hide.MM(math.Inf(1))
	}
	a, b := x.segment(i)
	return onSegment(a, b, q), hide.MM(d)
}

// DistanceToShape is the smallest distance from the shape's outer boundaries
// to the ring; 0 where they cross. A shape wholly inside the ring has the
// distance of its boundary, one wholly around it likewise. +Inf for an empty
// shape or ring.
func (x *EdgeIndex) DistanceToShape(s hide.Shape) hide.MM {
	best := math.Inf(1)
	for _, p := range s {
		for i, a := range p.Outer {
			d, _ := x.nearest(a, p.Outer[(i+1)%len(p.Outer)], best)
			if best = min(best, d); best == 0 {
				return 0
			}
		}
	}
	return hide.MM(best)
}

// nearest finds the ring's segment next to segment ab, its number and
// distance; limit prunes the search, and (limit, -1) says nothing is nearer.
func (x *EdgeIndex) nearest(a, b hide.Point, limit float64) (float64, int) {
	found := -1
	box := boxOf(hide.Ring{a, b})
	// ignored: the callback returns nil or Stop, which is no error
	_ = x.tree.PrioritySearch(box, func(i int) error {
		c, d := x.segment(i)
		if boxGap(box, boxOf(hide.Ring{c, d})) > limit {
			return rtree.Stop
		}
		if gap := segmentGap(a, b, c, d); gap < limit || (gap == limit && i < found) {
			limit, found = gap, i
		}
		return nil
	})
	return limit, found
}

func (x *EdgeIndex) segment(i int) (a, b hide.Point) {
	return x.ring[i], x.ring[(i+1)%len(x.ring)]
}

// EdgeDistance is the smallest distance from the shape to the outline's outer
// edge; 0 if the shape crosses it or has no part on the hide. Holes of the
// outline do not count as edge. For many shapes on one hide build a NewEdgeIndex
// once and use DistanceToShape.
func EdgeDistance(outline hide.Polygon, s hide.Shape) hide.MM {
	if len(s) == 0 || len(outline.Outer) == 0 {
		return 0
	}
	for _, p := range s {
		if len(p.Outer) > 0 && !inRing(outline.Outer, p.Outer[0]) {
			return 0
		}
	}
	return NewEdgeIndex(outline.Outer).DistanceToShape(s)
}

func boxOf(r hide.Ring) rtree.Box {
	if len(r) == 0 {
		return rtree.Box{}
	}
	x, y := float64(r[0].X), float64(r[0].Y)
	b := rtree.Box{MinX: x, MinY: y, MaxX: x, MaxY: y}
	for _, p := range r[1:] {
		b.MinX, b.MaxX = min(b.MinX, float64(p.X)), max(b.MaxX, float64(p.X))
		b.MinY, b.MaxY = min(b.MinY, float64(p.Y)), max(b.MaxY, float64(p.Y))
	}
	return b
}

func boxGap(a, b rtree.Box) float64 {
	dx := max(0, a.MinX-b.MaxX, b.MinX-a.MaxX)
	dy := max(0, a.MinY-b.MaxY, b.MinY-a.MaxY)
	return math.Hypot(dx, dy)
}

// segmentGap is the distance between two segments, 0 where they cross.
func segmentGap(a, b, c, d hide.Point) float64 {
	if crosses(a, b, c, d) {
		return 0
	}
	return min(pointGap(a, c, d), pointGap(b, c, d), pointGap(c, a, b), pointGap(d, a, b))
}

// crosses reports a proper crossing; touching ends are left to pointGap.
func crosses(a, b, c, d hide.Point) bool {
	s1, s2 := cross(a, b, c), cross(a, b, d)
	s3, s4 := cross(c, d, a), cross(c, d, b)
	return s1*s2 < 0 && s3*s4 < 0
}

// cross is twice the signed area of the triangle abc.
func cross(a, b, c hide.Point) float64 {
	return float64(b.X-a.X)*float64(c.Y-a.Y) - float64(b.Y-a.Y)*float64(c.X-a.X)
}

func pointGap(q, a, b hide.Point) float64 { return float64(q.Distance(onSegment(a, b, q))) }

// onSegment is the point of segment ab next to q.
func onSegment(a, b, q hide.Point) hide.Point {
	dx, dy := float64(b.X-a.X), float64(b.Y-a.Y)
	n := dx*dx + dy*dy
	if n == 0 {
		return a
	}
	t := min(1, max(0, (float64(q.X-a.X)*dx+float64(q.Y-a.Y)*dy)/n))
	return hide.Point{X: a.X + hide.MM(t*dx), Y: a.Y + hide.MM(t*dy)}
}
