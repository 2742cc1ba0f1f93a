package plane

import (
	"math"

	"github.com/peterstace/simplefeatures/geom"
	"github.com/peterstace/simplefeatures/geos"

	"hidechart/hide"
)

// quadrantSegments is the number of chords per quarter circle in a buffer.
// The radius falls short by at most 1−cos(π/4n) = 0.03 % at n = 32: 0.006 mm
// for a margin of 20 mm, well under the edge placement.
const quadrantSegments = 32

// leastBuffer, mm: GEOS rounds vertices when the distance is near the spacing
// of floating-point numbers, so a smaller one leaves the shape as it is; a
// thousandth of the files' resolution.
const leastBuffer = 1e-6

// Buffer grows (d > 0) or shrinks (d < 0) a shape by d millimetres with round
// joins. Circles are inscribed polygons with 128 chords: the result is never
// too large, and its boundary falls short by at most 0.03 % of d. The result
// may be empty (nil). Errors: Invalid for a d that is not finite or a shape that
// cannot be repaired. Source: GEOS BufferOp, quad segments 32.
func Buffer(s hide.Shape, d hide.MM) (hide.Shape, error) {
	if math.IsNaN(float64(d)) || math.IsInf(float64(d), 0) {
		return nil, hide.Faultf(hide.Invalid, "buffer: distance %v is not finite", d)
	}
	if math.Abs(float64(d)) < leastBuffer {
		return MakeValid(s)
	}
	g, err := valid(s)
	if err != nil {
		return nil, err
	}
	return result("buffer")(geos.Buffer(g, float64(d), geos.BufferQuadSegments(quadrantSegments)))
}

// Union is the region covered by at least one of the shapes. Errors: Invalid.
func Union(shapes ...hide.Shape) (hide.Shape, error) {
	parts := make([]geom.Geometry, 0, len(shapes))
	for _, s := range shapes {
		g, err := valid(s)
		if err != nil {
			return nil, err
		}
		parts = append(parts, g)
	}
	return result("union")(geos.UnaryUnion(geom.NewGeometryCollection(parts).AsGeometry()))
}

// Difference is the region of a that b does not cover. Errors: Invalid.
func Difference(a, b hide.Shape) (hide.Shape, error) {
	return binary("difference", geos.Difference, a, b)
}

// Intersection is the region that a and b share; where they only touch it is
// empty. Errors: Invalid.
func Intersection(a, b hide.Shape) (hide.Shape, error) {
	return binary("intersection", geos.Intersection, a, b)
}

// Clip is the part of a shape on the hide: inside the outline, off its holes.
// Errors: Invalid.
func Clip(s hide.Shape, outline hide.Polygon) (hide.Shape, error) {
	return binary("clip", geos.Intersection, s, hide.Shape{outline})
}

func binary(name string, op func(a, b geom.Geometry) (geom.Geometry, error), a, b hide.Shape) (hide.Shape, error) {
	ga, err := valid(a)
	if err != nil {
		return nil, err
	}
	gb, err := valid(b)
	if err != nil {
		return nil, err
	}
	return result(name)(op(ga, gb))
}

func result(name string) func(geom.Geometry, error) (hide.Shape, error) {
	return func(g geom.Geometry, err error) (hide.Shape, error) {
		if err != nil {
			return nil, hide.Wrapf(hide.Invalid, err, "%s", name)
		}
		return settled(ShapeFromGeom(g)), nil
	}
}

// settled makes sure that a result counts as simple in plain floating point
// too: GEOS decides with exact predicates, and a vertex that rounding put on the
// wrong side of an edge, 1e-13 mm off, looks like a crossing to others. Such a
// result is put on a grid of 1e-6 mm, if need be coarser up to 1e-4 mm (a tenth
// of the files' resolution), and noded again.
func settled(s hide.Shape) hide.Shape {
	for grid := 1e6; grid >= 1e4 && ShapeToGeom(s).Validate() != nil; grid /= 10 {
		round := func(p hide.Point) hide.Point {
			return pointAt(math.Round(float64(p.X)*grid)/grid, math.Round(float64(p.Y)*grid)/grid)
		}
		if g, err := geos.MakeValid(ShapeToGeom(Mapped(s, round))); err == nil {
			s = ShapeFromGeom(g)
		}
	}
	return s
}

// IsValid tells why a polygon is not simple: nil, or an Invalid error with the
// reason (rings that cross, holes outside, fewer than three vertices, a
// coordinate that is not finite). Source: OGC 06-103r4, section 6.1.11.
func IsValid(p hide.Polygon) error {
	if len(p.Outer) < 3 {
		return hide.Faultf(hide.Invalid, "polygon: outer ring has %d vertices, needs three", len(p.Outer))
	}
	if err := PolygonToGeom(p).Validate(); err != nil {
		return hide.Wrapf(hide.Invalid, err, "polygon")
	}
	return nil
}

// MakeValid repairs a shape: crossing rings by the even-odd rule, overlapping
// polygons merged; slivers without area vanish. A valid shape keeps its vertices
// and gets the stable order. Errors: Invalid when GEOS cannot.
// Source: GEOSMakeValid, linework method.
func MakeValid(s hide.Shape) (hide.Shape, error) {
	return result("make valid")(valid(s))
}

// simplifyTries bounds the halvings of the tolerance in Simplify: after 12 it
// is 1/4096 of what was asked, and the shape is returned as it was.
const simplifyTries = 12

// Simplify drops vertices so that no dropped one lies farther than tol from the
// new boundary, and keeps the topology: the same number of polygons and holes,
// no crossing rings. Where the plain rule would break it, a ring too small stays
// as it is, and otherwise the tolerance is halved until it holds. Errors:
// Invalid for a negative or undefined tol. Source: Douglas & Peucker 1973
// (GEOSSimplify) per ring; the check of the topology is ours.
func Simplify(s hide.Shape, tol hide.MM) (hide.Shape, error) {
	if !(tol >= 0) || math.IsInf(float64(tol), 0) {
		return nil, hide.Faultf(hide.Invalid, "simplify: tolerance %v mm, want 0 or more", tol)
	}
	s, err := MakeValid(s)
	if err != nil || tol == 0 {
		return s, err
	}
	for range simplifyTries {
		out := make(hide.Shape, len(s))
		for i, p := range s {
			if out[i], err = simplifyPolygon(p, tol); err != nil {
				return nil, err
			}
		}
		if ShapeToGeom(out).Validate() == nil {
			Sort(out)
			return out, nil
		}
		tol /= 2
	}
	return s, nil
}

func simplifyPolygon(p hide.Polygon, tol hide.MM) (hide.Polygon, error) {
	outer, err := simplifyRing(p.Outer, tol)
	out := hide.Polygon{Outer: outer}
	for _, h := range p.Holes {
		if err != nil {
			break
		}
		var r hide.Ring
		r, err = simplifyRing(h, tol)
		out.Holes = append(out.Holes, r)
	}
	return out, err
}

func simplifyRing(r hide.Ring, tol hide.MM) (hide.Ring, error) {
	// the first vertex always stays, so begin at an extreme one, as fromLeast
	// did: a vertex in the middle of a straight run would stay for nothing
	g, err := geos.Simplify(RingToGeom(r).AsGeometry(), float64(tol))
	if err != nil {
		return nil, hide.Wrapf(hide.Invalid, err, "simplify")
	}
	l, ok := g.AsLineString()
	if !ok || l.Coordinates().Length() < 4 {
		return r, nil
	}
	out := ringFromGeom(l)
	if (out.SignedArea() > 0) != (r.SignedArea() > 0) {
		return r, nil // collapsed or turned over
	}
	return out, nil
}

// Area is the area of a shape whose polygons do not overlap.
func Area(s hide.Shape) hide.MM2 { return s.Area() }

// Contains reports whether q lies in the polygon, not in a hole. A point on
// the boundary may count either way, as rounding has it; no polygon and a
// point that is not finite contain nothing. Source: even-odd crossing number
// (Shimrat 1962), half-open edges.
func Contains(p hide.Polygon, q hide.Point) bool {
	if !inRing(p.Outer, q) {
		return false
	}
	for _, h := range p.Holes {
		if inRing(h, q) {
			return false
		}
	}
	return true
}

// ContainsShape reports whether q lies in one of the shape's polygons.
func ContainsShape(s hide.Shape, q hide.Point) bool {
	for _, p := range s {
		if Contains(p, q) {
			return true
		}
	}
	return false
}

func inRing(r hide.Ring, q hide.Point) bool {
	inside := false
	for i, b := range r {
		a := r[(i+len(r)-1)%len(r)]
		if (a.Y > q.Y) != (b.Y > q.Y) && q.X < a.X+(b.X-a.X)*(q.Y-a.Y)/(b.Y-a.Y) {
			inside = !inside
		}
	}
	return inside
}
