package plane

import (
	"math"

	"hidechart/hide"
)

// axis is a directed line: along it s, across it d, positive to the left of
// the direction (counter-clockwise).
type axis struct {
	from   hide.Point
	dx, dy float64 // unit direction
}

func newAxis(from hide.Point, angle float64) axis {
	sin, cos := math.Sincos(angle)
	return axis{from: from, dx: cos, dy: sin}
}

func axisThrough(a, b hide.Point) axis {
	return newAxis(a, math.Atan2(float64(b.Y-a.Y), float64(b.X-a.X)))
}

// local gives the position along and across, in mm.
func (a axis) local(p hide.Point) (s, d float64) {
	x, y := float64(p.X-a.from.X), float64(p.Y-a.from.Y)
	return x*a.dx + y*a.dy, y*a.dx - x*a.dy
}

// table is the inverse of local.
func (a axis) table(s, d float64) hide.Point {
	return hide.Point{X: a.from.X + hide.MM(s*a.dx-d*a.dy), Y: a.from.Y + hide.MM(s*a.dy+d*a.dx)}
}

func (a axis) angle() float64 { return math.Atan2(a.dy, a.dx) }

// mirror reflects a point in the axis.
func (a axis) mirror(p hide.Point) hide.Point {
	s, d := a.local(p)
	return a.table(s, -d)
}

// locals converts a ring to axis coordinates; X is along, Y across.
func (a axis) locals(r hide.Ring) hide.Ring {
	out := make(hide.Ring, len(r))
	for i, p := range r {
		s, d := a.local(p)
		out[i] = pointAt(s, d)
	}
	return out
}

func pointAt(x, y float64) hide.Point { return hide.Point{X: hide.MM(x), Y: hide.MM(y)} }

// resampled walks the ring and returns n points at equal steps of its length.
func resampled(r hide.Ring, n int) hide.Ring {
	out := make(hide.Ring, 0, n)
	step := float64(r.Length()) / float64(n)
	next := 0.0
	for i, a := range r {
		b := r[(i+1)%len(r)]
		l := float64(a.Distance(b))
		for next < l && len(out) < n {
			out = append(out, pointAt(float64(a.X)+float64(b.X-a.X)*next/l, float64(a.Y)+float64(b.Y-a.Y)*next/l))
			next += step
		}
		next -= l
	}
	return out
}

// centroid is the ring's centre of area.
func centroid(r hide.Ring) hide.Point {
	var x, y, sum float64
	o := r[0]
	for i, a := range r {
		b := r[(i+1)%len(r)]
		w := cross(o, a, b)
		x += w * float64(a.X+b.X-2*o.X) / 3
		y += w * float64(a.Y+b.Y-2*o.Y) / 3
		sum += w
	}
	return hide.Point{X: o.X + hide.MM(x/sum), Y: o.Y + hide.MM(y/sum)}
}
