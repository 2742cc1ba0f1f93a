package plane

import (
	"math"

	"github.com/peterstace/simplefeatures/geom"
	"github.com/peterstace/simplefeatures/geos"

	"hidechart/hide"
)

// Rectangle is the smallest rectangle, of any direction, that holds a shape.
type Rectangle struct {
	Centre        hide.Point
	Length, Width hide.MM // Length >= Width
	Angle         float64 // of the long side, radians from x towards y, in (-π/2, π/2]
}

// MinRectangle finds the rectangle of least area around the shape's outer
// rings. Of equal ones the first edge of the hull decides. An empty shape has
// the zero Rectangle. Source: rotating calipers (Toussaint 1983), simplefeatures.
func MinRectangle(s hide.Shape) Rectangle {
	return rectangleOf(geom.RotatedMinimumAreaBoundingRectangle(ShapeToGeom(s)))
}

// MinRectangleOf does the same for points; a line has width 0.
func MinRectangleOf(points []hide.Point) Rectangle {
	if len(points) == 0 {
		return Rectangle{}
	}
	return rectangleOf(geom.RotatedMinimumAreaBoundingRectangle(lineOrPoint(points)))
}

// ConvexHull is the smallest convex ring around the shape; an empty shape or one
// without area has none. Source: simplefeatures (Andrew's monotone chain).
func ConvexHull(s hide.Shape) hide.Shape {
	g := ShapeToGeom(s).ConvexHull()
	if !g.IsPolygon() {
		return nil
	}
	return ShapeFromGeom(g)
}

// lineOrPoint converts points to the geometry they can be: a point where
// they all fall together, else a line.
func lineOrPoint(points []hide.Point) geom.Geometry {
	for _, p := range points[1:] {
		if p != points[0] {
			return LineToGeom(points).AsGeometry()
		}
	}
	return geom.XY{X: float64(points[0].X), Y: float64(points[0].Y)}.AsPoint().AsGeometry()
}

func rectangleOf(g geom.Geometry) Rectangle {
	seq := g.DumpCoordinates()
	if seq.Length() == 0 {
		return Rectangle{}
	}
	at := func(i int) hide.Point {
		xy := seq.GetXY(min(i, seq.Length()-1))
		return hide.Point{X: hide.MM(xy.X), Y: hide.MM(xy.Y)}
	}
	if seq.Length() < 5 { // a point or a line
		return newRectangle(at(0), at(1), at(1))
	}
	return newRectangle(at(0), at(1), at(2))
}

func newRectangle(a, b, c hide.Point) Rectangle {
	r := Rectangle{Centre: hide.Point{X: (a.X + c.X) / 2, Y: (a.Y + c.Y) / 2}, Length: a.Distance(b), Width: b.Distance(c)}
	from, to := a, b
	if r.Width > r.Length {
		r.Length, r.Width, from, to = r.Width, r.Length, b, c
	}
	r.Angle = math.Atan2(float64(to.Y-from.Y), float64(to.X-from.X))
	for r.Angle <= -math.Pi/2 {
		r.Angle += math.Pi
	}
	for r.Angle > math.Pi/2 {
		r.Angle -= math.Pi
	}
	return r
}

// RibbonFrom is the band of the given full width along a line, with round
// ends and joins; where the line crosses itself the band is one region. A
// single point gives a disc. Errors: Invalid for no point or a width that is not
// positive. Source: GEOS BufferOp, quad segments 32.
func RibbonFrom(line []hide.Point, width hide.MM) (hide.Shape, error) {
	if len(line) == 0 || !(width > 0) || math.IsInf(float64(width), 0) {
		return nil, hide.Faultf(hide.Invalid, "ribbon: %d points, width %v mm: want a point and a width above 0", len(line), width)
	}
	return result("ribbon")(geos.Buffer(lineOrPoint(line), float64(width)/2, geos.BufferQuadSegments(quadrantSegments)))
}

// LineLength is the length of an open line.
func LineLength(line []hide.Point) hide.MM {
	var sum hide.MM
	for i := 1; i < len(line); i++ {
		sum += line[i-1].Distance(line[i])
	}
	return sum
}

// Rotated turns a shape about a point, counter-clockwise, radians.
func Rotated(s hide.Shape, about hide.Point, angle float64) hide.Shape {
	sin, cos := math.Sincos(angle)
	return Mapped(s, func(p hide.Point) hide.Point {
		dx, dy := float64(p.X-about.X), float64(p.Y-about.Y)
		return hide.Point{X: about.X + hide.MM(dx*cos-dy*sin), Y: about.Y + hide.MM(dx*sin+dy*cos)}
	})
}

// Mapped applies a map of the plane to every vertex and restores orientation
// (a mirror turns rings over) and order. The map must keep rings simple.
func Mapped(s hide.Shape, to func(hide.Point) hide.Point) hide.Shape {
	out := make(hide.Shape, len(s))
	for i, p := range s {
		q := hide.Polygon{Outer: mappedRing(p.Outer, to)}
		for _, h := range p.Holes {
			q.Holes = append(q.Holes, mappedRing(h, to))
		}
		out[i] = q.Oriented()
	}
	Sort(out)
	return out
}

func mappedRing(r hide.Ring, to func(hide.Point) hide.Point) hide.Ring {
	out := make(hide.Ring, len(r))
	for i, p := range r {
		out[i] = to(p)
	}
	return out
}
