package yield

import (
	"math"

	"github.com/tdewolff/canvas"

	"hidechart/hide"
)

// flattenPath turns path data into lines, mm: its subpaths under a matrix, curves
// as chords within flatness of them. The library parses the data; its own
// flattening is not used, for its arcs are off by 0.1 % of the radius (found against
// librsvg and the ellipse's area).
func flattenPath(p *canvas.Path, m canvas.Matrix) []contour {
	var out []contour
	var c *contour
	add := func(q canvas.Point) {
		q = m.Dot(q)
		c.points = append(c.points, hide.Point{X: hide.MM(q.X), Y: hide.MM(q.Y)})
	}
	for s := p.Scanner(); s.Scan(); {
		if c == nil || s.Cmd() == canvas.MoveToCmd {
			out = append(out, contour{})
			c = &out[len(out)-1]
			if s.Cmd() != canvas.MoveToCmd {
				add(s.Start())
			}
		}
		switch a, b := s.Start(), s.End(); s.Cmd() {
		case canvas.MoveToCmd, canvas.LineToCmd:
			add(b)
		case canvas.QuadToCmd:
			q := s.CP1()
			// a quadratic is the cubic with these control points
			bezier(a, between(a, q, 2.0/3), between(b, q, 2.0/3), b, m, add)
		case canvas.CubeToCmd:
			bezier(a, s.CP1(), s.CP2(), b, m, add)
		case canvas.ArcToCmd:
			rx, ry, turn, large, sweep := s.Arc()
			arc(a, b, rx, ry, turn*math.Pi/180, large, sweep, m, add)
		case canvas.CloseCmd:
			c.closed = true
			c = nil
		}
	}
	return out
}

func between(a, b canvas.Point, t float64) canvas.Point { return a.Add(b.Sub(a).Mul(t)) }

// mostChords in one curve: a safeguard against coordinates of another world.
const mostChords = 4096

// bezier adds the points of a cubic after its first. The number of chords is
// Wang's bound, √(6·M/8·flatness) with M the greatest second difference of the
// control points (Wang 1984).
func bezier(a, p, q, b canvas.Point, m canvas.Matrix, add func(canvas.Point)) {
	second := func(x, y, z canvas.Point) float64 {
		return m.Dot(x).Sub(m.Dot(y)).Add(m.Dot(z).Sub(m.Dot(y))).Length()
	}
	n := math.Sqrt(6 * max(second(a, p, q), second(p, q, b)) / (8 * flatness))
	steps := int(min(mostChords, max(1, math.Ceil(n))))
	for i := 1; i < steps; i++ {
		t := float64(i) / float64(steps)
		u := 1 - t
		add(a.Mul(u * u * u).Add(p.Mul(3 * u * u * t)).Add(q.Mul(3 * u * t * t)).Add(b.Mul(t * t * t)))
	}
	add(b)
}

// arc adds the points of an elliptic arc after its first, from its end points by
// SVG 1.1, appendix F.6.5. turn is in radians.
func arc(a, b canvas.Point, rx, ry, turn float64, large, sweep bool, m canvas.Matrix, add func(canvas.Point)) {
	rx, ry = math.Abs(rx), math.Abs(ry)
	sin, cos := math.Sincos(turn)
	x, y := cos*(a.X-b.X)/2+sin*(a.Y-b.Y)/2, -sin*(a.X-b.X)/2+cos*(a.Y-b.Y)/2
	if rx == 0 || ry == 0 || x == 0 && y == 0 {
		add(b)
		return
	}
	if l := math.Sqrt(x*x/(rx*rx) + y*y/(ry*ry)); l > 1 { // F.6.6: too small a radius grows
		rx, ry = rx*l, ry*l
	}
	k := math.Sqrt(max(0, (rx*rx*ry*ry-rx*rx*y*y-ry*ry*x*x)/(rx*rx*y*y+ry*ry*x*x)))
	if large == sweep {
		k = -k
	}
	cx, cy := k*rx*y/ry, -k*ry*x/rx
	from := math.Atan2((y-cy)/ry, (x-cx)/rx)
	angle := math.Atan2((-y-cy)/ry, (-x-cx)/rx) - from
	if sweep && angle < 0 {
		angle += 2 * math.Pi
	} else if !sweep && angle > 0 {
		angle -= 2 * math.Pi
	}
	middle := canvas.Point{X: (a.X+b.X)/2 + cos*cx - sin*cy, Y: (a.Y+b.Y)/2 + sin*cx + cos*cy}
	// the matrix stretches the radius by no more than its norm
	stretch := math.Hypot(math.Hypot(m[0][0], m[0][1]), math.Hypot(m[1][0], m[1][1]))
	steps := arcSteps(max(rx, ry)*stretch, angle)
	for i := 1; i < steps; i++ {
		s, c := math.Sincos(from + angle*float64(i)/float64(steps))
		add(canvas.Point{X: middle.X + cos*rx*c - sin*ry*s, Y: middle.Y + sin*rx*c + cos*ry*s})
	}
	add(b)
}
