package review

import (
	"cmp"
	"math"
	"slices"

	"hidechart/hide"
	"hidechart/plane"
)

// Limits of what a reviewer draws.
const (
	mostVertices = 20000 // of one shape: a hand-drawn line gives a few hundred
	// leastArea of a shape, mm²: a speck of half a millimetre is below what is charted.
	leastArea hide.MM2 = 0.2
	// knife is the width of the cut between two parts, mm. Wide enough that the
	// parts do not touch after coordinates are rounded to 0.001 mm.
	knife hide.MM = 0.02
	// ribbonLeast and ribbonMost bound the width of a drawn line, mm.
	ribbonLeast hide.MM = 0.2
	ribbonMost  hide.MM = 200
)

// stroke is what a reviewer drew: a closed shape, or a line with a width.
type stroke struct {
	Shape hide.Shape   `json:"shape,omitempty"`
	Line  []hide.Point `json:"line,omitempty"`
	Width hide.MM      `json:"width_mm,omitempty"`
}

// drawn is the stroke as a valid shape on the leather, with its length and width.
// Error: Invalid, in words for the reviewer.
func (s stroke) drawn(outline hide.Polygon) (shape hide.Shape, length, width hide.MM, err error) {
	if err := s.check(); err != nil {
		return nil, 0, 0, err
	}
	shape = s.Shape
	if len(s.Line) > 0 {
		if shape, err = plane.RibbonFrom(s.Line, s.Width); err != nil {
			return nil, 0, 0, hide.Wrapf(hide.Invalid, err, "the line")
		}
	}
	if shape, err = plane.MakeValid(shape); err != nil {
		return nil, 0, 0, hide.Wrapf(hide.Invalid, err, "the shape")
	}
	leather := hide.Polygon{Outer: outline.Outer} // a hole may be drawn anew
	if shape, err = plane.Clip(shape, leather); err != nil {
		return nil, 0, 0, hide.Wrapf(hide.Invalid, err, "the shape")
	}
	shape = slices.DeleteFunc(shape, func(p hide.Polygon) bool { return p.Area() < leastArea })
	if len(shape) == 0 {
		return nil, 0, 0, hide.Faultf(hide.Invalid, "the shape is too small or lies off the hide")
	}
	box := plane.MinRectangle(shape)
	length, width = box.Length, box.Width
	if len(s.Line) > 0 {
		length, width = plane.LineLength(s.Line), s.Width
	}
	return shape, length, width, nil
}

func (s stroke) check() error {
	n := len(s.Line)
	for _, p := range s.Shape {
		for _, r := range append([]hide.Ring{p.Outer}, p.Holes...) {
			if len(r) < 3 {
				return hide.Faultf(hide.Invalid, "the shape has a ring of fewer than three points")
			}
			n += len(r)
			if !finite(r) {
				return hide.Faultf(hide.Invalid, "the shape has a point that is no place on a table")
			}
		}
	}
	switch {
	case n > mostVertices:
		return hide.Faultf(hide.Invalid, "the shape has more than %d points", mostVertices)
	case (len(s.Shape) == 0) == (len(s.Line) == 0):
		return hide.Faultf(hide.Invalid, "want a shape or a line")
	case len(s.Line) == 1 || !finite(s.Line):
		return hide.Faultf(hide.Invalid, "the line needs two points on the table")
	case len(s.Line) > 0 && !(s.Width >= ribbonLeast && s.Width <= ribbonMost):
		return hide.Faultf(hide.Invalid, "the line's width: want %g to %g mm", ribbonLeast, ribbonMost)
	}
	return nil
}

// farthest a coordinate may lie from the table's corner, mm: no table is a hundred metres.
const farthest = 1e5

func finite(points []hide.Point) bool {
	return !slices.ContainsFunc(points, func(p hide.Point) bool {
		return !(math.Abs(float64(p.X)) < farthest && math.Abs(float64(p.Y)) < farthest)
	})
}

// measureInto sets what follows from a shape that a reviewer made, uncertainties as well.
func measureInto(d *hide.Defect, c hide.Chart, shape hide.Shape, length, width hide.MM) {
	d.Geometry, d.Area, d.Length, d.Width = shape, shape.Area(), length, width
	d.EdgeDistance = plane.EdgeDistance(c.Outline, shape)
	d.SetU(c.Area, hide.DrawnByHand(c.Frame.MMPerPX))
	d.Zone = zoneOf(c.Zones, shape)
}

// zoneOf is the zone that holds most of a shape; empty without zones.
func zoneOf(zones []hide.ZoneShape, s hide.Shape) hide.Zone {
	var best hide.Zone
	var most hide.MM2
	for _, z := range zones {
		in, err := plane.Intersection(s, z.Geometry)
		if err == nil && in.Area() > most {
			most, best = in.Area(), z.Zone
		}
	}
	return best
}

// cutAlong parts a shape by a line of two points or more, lengthened at both
// ends; without a line it gives each polygon by itself. Largest part first.
// Error: Invalid when it stays in one piece.
func cutAlong(s hide.Shape, line []hide.Point) ([]hide.Shape, error) {
	if len(line) == 0 {
		out := make([]hide.Shape, len(s))
		for i, p := range s {
			out[i] = hide.Shape{p}
		}
		return parted(out)
	}
	if len(line) < 2 || len(line) > mostVertices || !finite(line) {
		return nil, hide.Faultf(hide.Invalid, "the cut needs two points on the table")
	}
	line = lengthened(line, s)
	blade, err := plane.RibbonFrom(line, knife)
	if err != nil {
		return nil, hide.Wrapf(hide.Invalid, err, "the cut")
	}
	rest, err := plane.Difference(s, blade)
	if err != nil {
		return nil, hide.Wrapf(hide.Invalid, err, "the cut")
	}
	var sides [2]hide.Shape
	for _, p := range rest {
		if p.Area() >= leastArea {
			k := sideOf(line, p.Outer)
			sides[k] = append(sides[k], p)
		}
	}
	return parted(sides[:])
}

func parted(parts []hide.Shape) ([]hide.Shape, error) {
	parts = slices.DeleteFunc(parts, func(s hide.Shape) bool { return len(s) == 0 })
	if len(parts) < 2 {
		return nil, hide.Faultf(hide.Invalid, "the cut leaves it in one piece: draw it right across")
	}
	slices.SortStableFunc(parts, func(a, b hide.Shape) int { return cmp.Compare(b.Area(), a.Area()) })
	return parts, nil
}

// lengthened draws a line out at both ends, past the shape.
func lengthened(line []hide.Point, s hide.Shape) []hide.Point {
	far := plane.MinRectangle(s).Length + 1
	away := func(from, to hide.Point) hide.Point {
		d := from.Distance(to)
		if d == 0 {
			return to
		}
		return hide.Point{X: to.X + (to.X-from.X)/d*far, Y: to.Y + (to.Y-from.Y)/d*far}
	}
	n := len(line)
	out := append([]hide.Point{away(line[1], line[0])}, line...)
	return append(out, away(line[n-2], line[n-1]))
}

// sideOf tells on which side of a line most of a ring lies, each vertex by the
// nearest stretch of the line.
func sideOf(line []hide.Point, r hide.Ring) int {
	var sum float64
	for _, p := range r {
		best, cross := math.Inf(1), 0.0
		for i := range line[1:] {
			a, b := line[i], line[i+1]
			dx, dy, px, py := float64(b.X-a.X), float64(b.Y-a.Y), float64(p.X-a.X), float64(p.Y-a.Y)
			long := dx*dx + dy*dy
			if long == 0 {
				continue
			}
			t := min(1, max(0, (px*dx+py*dy)/long))
			if d := math.Hypot(px-t*dx, py-t*dy); d < best {
				best, cross = d, (dx*py-dy*px)/math.Sqrt(long)
			}
		}
		sum += cross
	}
	if sum < 0 {
		return 1
	}
	return 0
}
