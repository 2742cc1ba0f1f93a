package scene

import (
	"math"

	"hidechart/hide"
)

// brand is a burnt mark of one to three figures: sunken, smooth, with a
// raised rim and a darker or bleached colour. The figures are plain strokes
// drawn here at random, nobody's mark.
func (m *maker) brand() (defect, bool) {
	at, ok := m.spotIn(.15, .95, .1, .75, 90)
	if !ok {
		return defect{}, false
	}
	d := defect{kind: hide.Brand, visibility: m.vis(), open: m.chance(.2)}
	size, half := m.log(45, 130), m.log(2, 6.5)
	angle := m.turn()
	deep := m.steepness(d.visibility, .03, .28) * half
	tone := m.tone(d.visibility*m.in(.1, .4), .25)
	shin := m.in(.8, 2.5)
	for i, n := 0, m.count(1, 3); i < n; i++ {
		for _, stroke := range m.figure() {
			pts := m.drawn(stroke, at, angle, size, float64(i)*1.25)
			d.parts = append(d.parts, m.burn(pts, half*m.in(.85, 1.2), deep, shin, tone))
		}
	}
	return d, len(d.parts) > 0
}

// figure is a few strokes in a unit square around the origin.
func (m *maker) figure() [][]place {
	arc := func(r, a0, a1, cx, cy float64) []place {
		var out []place
		for i := range 29 {
			s, c := math.Sincos(a0 + (a1-a0)*float64(i)/28)
			out = append(out, place{cx + r*c, cy + r*s})
		}
		return out
	}
	switch m.IntN(9) {
	case 0: // ring
		return [][]place{arc(.45, 0, 2*math.Pi, 0, 0)}
	case 1: // bar over an arc
		return [][]place{{{-.4, .4}, {.4, .4}}, arc(.35, math.Pi, 2*math.Pi, 0, .1)}
	case 2: // cross
		return [][]place{{{0, -.5}, {0, .5}}, {{-.4, .1}, {.4, .1}}}
	case 3: // hook
		return [][]place{append([]place{{.25, .5}, {.25, -.1}}, arc(.25, 0, -math.Pi, 0, -.2)...)}
	case 4: // zigzag
		return [][]place{{{-.4, .5}, {.4, .5}, {-.4, -.5}, {.4, -.5}}}
	case 5: // diamond
		return [][]place{{{0, .5}, {.4, 0}, {0, -.5}, {-.4, 0}, {0, .5}}}
	case 6: // gable and bar
		return [][]place{{{-.4, -.5}, {0, .5}, {.4, -.5}}, {{-.22, -.1}, {.22, -.1}}}
	case 7: // post and bow
		return [][]place{{{-.3, -.5}, {-.3, .5}}, arc(.25, math.Pi/2, -math.Pi/2, -.25, .22)}
	default: // fork
		return [][]place{{{0, -.5}, {0, 0}, {-.35, .5}}, {{0, 0}, {.35, .5}}}
	}
}

// drawn lays a stroke of a figure on the hide, a point every 2 mm.
func (m *maker) drawn(stroke []place, at hide.Point, angle, size, shift float64) []hide.Point {
	sin, cos := math.Sincos(angle)
	seed := m.noiseSeed()
	var out []hide.Point
	for i := 0; i+1 < len(stroke); i++ {
		a, b := stroke[i], stroke[i+1]
		n := max(1, int(math.Hypot(b.x-a.x, b.y-a.y)*size/2))
		for k := 0; k <= n; k++ {
			q := between(a, b, float64(k)/float64(n))
			wob := .02 * wave(float64(k+i*n)/12, seed, 2)
			u, v := (q.x*.8+shift+wob)*size, (q.y+wob)*size
			out = append(out, hide.Point{X: at.X + hide.MM(u*cos-v*sin), Y: at.Y + hide.MM(u*sin+v*cos)})
		}
	}
	return out
}

func (m *maker) burn(pts []hide.Point, half, deep, shin float64, tone func(ink, float64) ink) part {
	seed, ragged := m.noiseSeed(), m.in(.05, .35)
	l := line{points: pts, reach: half*1.9 + 1}
	wide := func(s spot) float64 { return math.Abs(s.p) / (half * (1 + ragged*value(s.x/7, s.y/7, seed))) }
	return part{l, func(s spot) ink {
		x := wide(s)
		k := step(1.2, .75, x)
		a := plain()
		a.dh = deep * (.5*bell((x-1.25)/.2) - k)
		a.shinMul = 1 + (shin-1)*k
		return tone(a, k*(.8+.25*value(s.x/5, s.y/5, seed+1)))
	}, func(s spot) bool { return wide(s) <= 1 }}
}
