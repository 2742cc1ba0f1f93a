package scene

import (
	"math"

	"hidechart/hide"
)

// lamp is a small source of light over (or far beside) the table.
type lamp struct{ x, y, z, power float64 }

// lighting is one light of a capture as this rig has it.
type lighting struct {
	light    hide.Light
	lamps    []lamp
	reach    float64    // power of the distance by which a lamp falls off; 3 would be bare and unaimed
	ambient  float64    // light from everywhere, relative to the lamps' at the middle
	back     float64    // brightness of the light box, 0: off
	level    float64    // exposure: signal of a white surface at the middle, 1 is full
	colour   [3]float64 // of the light, largest about 1
	vignette float64    // loss at the corner
	rough    float64    // width of the highlight's lobe, radians
	scale    float64    // makes the middle 1
}

// drawLighting invents the lamps of one light. Top and empty share a stream,
// so that they are the same lamps.
func drawLighting(seed int64, l hide.Light, spec Spec, t table) lighting {
	name := string(l)
	if l == hide.Empty {
		name = string(hide.Top)
	}
	s := stream(seed, "light "+name)
	lens := stream(seed, "vignette")
	g := lighting{light: l, vignette: lens.in(.05, .45), rough: s.log(.05, .3), level: s.in(.72, 1.0)}
	span := .06
	if spec.Cast {
		span = .3
	}
	tint := stream(seed, "cast")
	for i := range g.colour {
		g.colour[i] = 1 - tint.in(0, span) - s.in(0, .015)
	}
	switch {
	case l == hide.Back:
		g.back, g.ambient, g.level = s.in(.85, 1.5), s.log(.004, .08), 1
	case l.Rake():
		g.rakeLamps(s, t)
	default:
		g.topLamps(s, t)
	}
	g.normalise(t)
	return g
}

// topLamps are two to four lamps overhead, not quite in the middle.
func (g *lighting) topLamps(s source, t table) {
	g.reach, g.ambient = 3, s.in(.15, .7)
	z := s.in(2200, 4200)
	for n := s.count(2, 4); n > 0; n-- {
		g.lamps = append(g.lamps, lamp{t.width * s.in(-.35, 1.35), t.height * s.in(-.35, 1.35), z * s.in(.9, 1.1), s.in(.6, 1.3)})
	}
}

// rakeLamps stand in a row at one side, low; they are aimed, so that they
// fall off slower than bare ones.
func (g *lighting) rakeLamps(s source, t table) {
	dir := map[hide.Light][2]float64{hide.RakeE: {1, 0}, hide.RakeW: {-1, 0}, hide.RakeN: {0, 1}, hide.RakeS: {0, -1}}[g.light]
	far := s.in(2300, 4200)
	rise := math.Tan(s.in(8, 20) * math.Pi / 180)
	g.reach, g.ambient = s.in(.4, 2.2), s.in(.03, .25)
	off := s.in(-.15, .15)
	for i := -1; i <= 1; i++ {
		along := (float64(i)*.4 + off) * t.height
		g.lamps = append(g.lamps, lamp{
			t.width/2 + dir[0]*far - dir[1]*along, t.height/2 + dir[1]*far + dir[0]*along, far * rise, s.in(.8, 1.2)})
	}
}

// normalise makes the light at the table's middle 1.
func (g *lighting) normalise(t table) {
	g.scale = 1
	if len(g.lamps) == 0 { // the light box: its own brightness and the room's are set already
		return
	}
	e, _, _ := g.at(t.width/2, t.height/2)
	g.scale = 1 / e
}

// at returns the light on a flat place and how it changes with the slope of
// the surface: relative light 1 + kx·sx + ky·sy (Lambert).
func (g *lighting) at(x, y float64) (e, kx, ky float64) {
	sum := 0.0
	for _, l := range g.lamps {
		dx, dy := l.x-x, l.y-y
		d := math.Sqrt(dx*dx + dy*dy + l.z*l.z)
		w := l.power * math.Pow(4000/d, g.reach) // 4 m: any length; normalise takes it out
		sum += w
		kx -= w * clamp(dx/l.z, -9, 9) // 9: a lamp 6° above the table
		ky -= w * clamp(dy/l.z, -9, 9)
	}
	if sum == 0 { // the light box: room light only
		return math.Max(g.ambient, 1e-6) * g.scale, 0, 0
	}
	e = sum * (1 + g.ambient)
	return e * g.scale, kx / e, ky / e
}

// glint is where a lamp would be mirrored by a flat hide into the camera and
// how a slope moves the place, relative to the lobe's width.
type glint struct{ x, y, perMM, perSlope, power float64 }

// glints are the mirrored lamps for a camera over (cx, cy) at height h.
func (g *lighting) glints(cx, cy, h float64) []glint {
	var out []glint
	for _, l := range g.lamps {
		k := h / (h + l.z)
		span := 2 * h * l.z / (h + l.z) // mm the image moves for a slope of 1
		out = append(out, glint{cx + (l.x-cx)*k, cy + (l.y-cy)*k, 1 / (span * g.rough), 1 / g.rough, l.power})
	}
	return out
}
