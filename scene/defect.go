package scene

import (
	"math"

	"hidechart/hide"
)

// defect is one flaw of the invented hide.
type defect struct {
	kind         hide.Kind
	visibility   float64 // multiplier of its contrast, 1 is ordinary
	open         bool
	tone, height float64 // strongest change of reflectance (relative) and of height (mm), once painted
	parts        []part
	holes        []hide.Ring // for kind hole: what is cut out
}

// maker invents the defects and look-alikes of one hide.
type maker struct {
	source
	lay      layout
	leather  leather
	inside   depths
	contrast float64
	taken    []hide.Point   // middles of holes, kept apart
	lines    [][]hide.Point // scars and scratches so far
	across   []hide.Point   // the line that the next one crosses; nil: it lies anywhere
}

// amount is how many of one kind a hide has at most, and the reach of the
// draw. Whole, ordinary hide; by eye, no source.
type amount struct {
	kind hide.Kind
	most int
	make func(*maker) (defect, bool)
}

func amounts() []amount {
	return []amount{
		{hide.Loose, 3, (*maker).loose}, {hide.Wrinkle, 2, (*maker).wrinkles}, {hide.Stain, 4, (*maker).stain},
		{hide.Vein, 3, (*maker).vein}, {hide.Brand, 2, (*maker).brand}, {hide.Thin, 3, (*maker).thin},
		{hide.Scar, 12, (*maker).scar}, {hide.Scratch, 8, (*maker).scratch}, {hide.Bites, 4, (*maker).bites},
		{hide.Wart, 4, (*maker).wart}, {hide.FlayCut, 4, (*maker).flayCut}, {hide.Hole, 5, (*maker).hole},
	}
}

// drawDefects invents all defects, widest kinds first so that small marks
// lie on top of wide ones.
//
// Over a share of the scars and scratches goes another one: wire and thorns tear a hide
// where it rubs along them, again and again.
func (m *maker) drawDefects(times, crossed float64) []defect {
	var out []defect
	if times < 0 {
		return nil
	}
	quality := m.log(.35, 1.5) * times // some hides are clean, some are poor
	for _, a := range amounts() {
		n := int(math.Round(float64(a.most) * clamp(m.Float64()*quality, 0, 3)))
		for range n {
			if d, ok := a.make(m); ok {
				out = append(out, d)
			}
		}
	}
	return append(out, m.crossings(crossed)...)
}

// vis draws the contrast of one defect: 0.3 to 1.7, times the Spec's.
func (m *maker) vis() float64 { return m.log(.3, 1.7) * m.contrast }

// spotIn draws a point of the hide at least deep mm inside, in a box of the
// hide frame (u from 0 to 1 along the backbone, v 0 to 1 outward).
func (m *maker) spotIn(u0, u1, v0, v1, deep float64) (hide.Point, bool) {
	for range 200 {
		p := place{m.lay.length * m.in(u0, u1), m.lay.half * m.in(v0, v1)}
		if !m.lay.side && m.chance(.5) {
			p.y = -p.y
		}
		t := m.lay.toTable(p)
		if m.inside.at(float64(t.X), float64(t.Y)) > deep {
			return t, true
		}
	}
	return hide.Point{}, false
}

// anywhere draws a point anywhere on the hide.
func (m *maker) anywhere(deep float64) (hide.Point, bool) { return m.spotIn(0, 1, 0, 1, deep) }

// path is a wandering line from a point: heading (radians) with a bend and
// some unrest, one point every 2 mm; it ends at the hide's edge.
func (m *maker) path(from hide.Point, heading, length, bend, unrest float64) []hide.Point {
	const gap = 2
	seed := m.noiseSeed()
	out := []hide.Point{from}
	for s := 0.0; s < length; s += gap {
		a := heading + bend*s/length + unrest*wave(s/40, seed, 2)
		sin, cos := math.Sincos(a)
		p := out[len(out)-1]
		p = hide.Point{X: p.X + hide.MM(gap*cos), Y: p.Y + hide.MM(gap*sin)}
		if m.inside.at(float64(p.X), float64(p.Y)) < 3 {
			break
		}
		out = append(out, p)
	}
	return out
}

// turn is any direction.
func (m *maker) turn() float64 { return m.in(0, 2*math.Pi) }

// tone is a relative change of colour with a small tint; lighter with
// probability up.
func (m *maker) tone(strength, up float64) func(a ink, w float64) ink {
	k := -strength * m.leather.mark
	if m.chance(up) {
		k = strength * m.leather.mark * .8
	}
	var tint [3]float64
	for i := range tint {
		tint[i] = 1 + m.in(-.3, .3)
	}
	return func(a ink, w float64) ink {
		for i := range a.colour {
			a.colour[i] *= math.Max(.04, 1+k*tint[i]*w)
		}
		return a
	}
}

// steepness draws the slope of a mark's relief.
func (m *maker) steepness(v, lo, hi float64) float64 { return v * m.log(lo, hi) * m.leather.relief }

// pulse is the strength along a line: it tapers at both ends, swells and
// fades.
func pulse(q, length, taper, unrest float64, seed uint32) float64 {
	ends := math.Min(q, length-q) / math.Max(1, math.Min(taper, length/2))
	return clamp(ends, 0, 1) * clamp(1+unrest*(wave(q/18, seed, 2)-.2), 0, 1.3)
}
