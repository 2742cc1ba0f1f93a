package plane

import (
	"cmp"
	"slices"

	"github.com/peterstace/simplefeatures/geom"
	"github.com/peterstace/simplefeatures/geos"

	"hidechart/hide"
)

// PolygonToGeom converts a polygon in table millimetres to a simplefeatures
// polygon with the same coordinates, rings closed. It is not checked for
// validity. Rings of fewer than three vertices enclose nothing and are left
// out; without an outer ring the result is empty.
func PolygonToGeom(p hide.Polygon) geom.Polygon {
	if len(p.Outer) < 3 {
		return geom.Polygon{}
	}
	rings := []geom.LineString{RingToGeom(p.Outer)}
	for _, h := range p.Holes {
		if len(h) >= 3 {
			rings = append(rings, RingToGeom(h))
		}
	}
	return geom.NewPolygon(rings)
}

// RingToGeom converts a ring to a closed line string (first vertex repeated).
func RingToGeom(r hide.Ring) geom.LineString {
	if len(r) == 0 {
		return geom.LineString{}
	}
	c := make([]float64, 0, 2*len(r)+2)
	for _, p := range r {
		c = append(c, float64(p.X), float64(p.Y))
	}
	c = append(c, float64(r[0].X), float64(r[0].Y))
	return geom.NewLineString(geom.NewSequence(c, geom.DimXY))
}

// LineToGeom converts an open line.
func LineToGeom(line []hide.Point) geom.LineString {
	c := make([]float64, 0, 2*len(line))
	for _, p := range line {
		c = append(c, float64(p.X), float64(p.Y))
	}
	return geom.NewLineString(geom.NewSequence(c, geom.DimXY))
}

// ShapeToGeom converts a shape to a multi-polygon, unchecked.
func ShapeToGeom(s hide.Shape) geom.Geometry {
	polys := make([]geom.Polygon, 0, len(s))
	for _, p := range s {
		if g := PolygonToGeom(p); !g.IsEmpty() {
			polys = append(polys, g)
		}
	}
	return geom.NewMultiPolygon(polys).AsGeometry()
}

// ShapeFromGeom takes the polygons out of any geometry, also out of nested
// collections; points and lines are dropped, for they carry no area. Rings are
// oriented by RFC 7946 and the polygons sorted by least x, least y, area.
func ShapeFromGeom(g geom.Geometry) hide.Shape {
	var out hide.Shape
	for _, part := range g.Dump() {
		if p, ok := part.AsPolygon(); ok && !p.IsEmpty() {
			out = append(out, PolygonFromGeom(p))
		}
	}
	Sort(out)
	return out
}

// PolygonFromGeom converts one polygon; see ShapeFromGeom for the order.
// Each ring starts at its least vertex (by x, then y) so that the same region
// has the same vertex list whatever made it.
func PolygonFromGeom(p geom.Polygon) hide.Polygon {
	out := hide.Polygon{Outer: ringFromGeom(p.ExteriorRing())}
	for i := range p.NumInteriorRings() {
		out.Holes = append(out.Holes, ringFromGeom(p.InteriorRingN(i)))
	}
	out = out.Oriented()
	out.Outer = fromLeast(out.Outer)
	for i, h := range out.Holes {
		out.Holes[i] = fromLeast(h)
	}
	slices.SortStableFunc(out.Holes, compareRings)
	return out
}

func ringFromGeom(l geom.LineString) hide.Ring {
	seq := l.Coordinates()
	out := make(hide.Ring, 0, seq.Length())
	for i := range seq.Length() - 1 { // the last repeats the first
		xy := seq.GetXY(i)
		out = append(out, hide.Point{X: hide.MM(xy.X), Y: hide.MM(xy.Y)})
	}
	return out
}

func fromLeast(r hide.Ring) hide.Ring {
	least := 0
	for i, p := range r {
		if comparePoints(p, r[least]) < 0 {
			least = i
		}
	}
	return append(append(make(hide.Ring, 0, len(r)), r[least:]...), r[:least]...)
}

// Sort puts the polygons in the order of files: by least x, least y, area,
// then vertex by vertex. In place.
func Sort(s hide.Shape) {
	slices.SortStableFunc(s, func(a, b hide.Polygon) int { return compareRings(a.Outer, b.Outer) })
}

func comparePoints(a, b hide.Point) int {
	return cmp.Or(cmp.Compare(a.X, b.X), cmp.Compare(a.Y, b.Y))
}

func compareRings(a, b hide.Ring) int {
	ab, bb := boxOf(a), boxOf(b)
	return cmp.Or(cmp.Compare(ab.MinX, bb.MinX), cmp.Compare(ab.MinY, bb.MinY),
		cmp.Compare(a.SignedArea(), b.SignedArea()), slices.CompareFunc(a, b, comparePoints))
}

// valid converts a shape and repairs it where it must be. Polygons that
// overlap are merged.
func valid(s hide.Shape) (geom.Geometry, error) {
	g := ShapeToGeom(s)
	if g.Validate() == nil {
		return g, nil
	}
	// each polygon by itself first: the even-odd rule over all of them would
	// cut out what two of them share
	parts := make([]geom.Geometry, 0, len(s))
	for _, p := range s {
		q := PolygonToGeom(p).AsGeometry()
		if q.Validate() != nil {
			// GEOS answers an infinite or undefined coordinate with an empty
			// result: said instead
			if err := q.Envelope().Validate(); err != nil {
				return geom.Geometry{}, hide.Wrapf(hide.Invalid, err, "polygon")
			}
			var err error
			if q, err = geos.MakeValid(q); err != nil {
				return geom.Geometry{}, hide.Wrapf(hide.Invalid, err, "repair polygon")
			}
		}
		parts = append(parts, ShapeToGeom(ShapeFromGeom(q)))
	}
	u, err := geos.UnaryUnion(geom.NewGeometryCollection(parts).AsGeometry())
	if err != nil {
		return geom.Geometry{}, hide.Wrapf(hide.Invalid, err, "merge polygons")
	}
	return u, nil
}
