package scene

import (
	"math"

	"hidechart/hide"
)

// swatchFlaw is one sort of flaw of a close-up: what can happen to leather on
// the bench, and the marks of the animal's life that fit into the picture.
// Sizes are those of a hand or a tool; by eye, no source.
type swatchFlaw struct {
	name string
	make func(*maker) (defect, bool)
}

func swatchFlaws() []swatchFlaw {
	return []swatchFlaw{
		{"blot", (*maker).blot}, {"slit", (*maker).slit}, {"crease", (*maker).crease},
		{"glue", (*maker).glue}, {"prick", (*maker).prick},
		{"scar", (*maker).scar}, {"scratch", (*maker).scratch}, {"bites", (*maker).bites}, {"wart", (*maker).wart},
	}
}

// addFlaw draws one flaw, paints it and marks it in the mask.
func (out *Swatch) addFlaw(k *skin, m *maker) {
	f := swatchFlaws()[m.IntN(len(swatchFlaws()))]
	d, ok := f.make(m)
	if !ok {
		return
	}
	k.paint(d.parts)
	reach := int(math.Ceil(swatchMarginMM / float64(k.grid.MMPerPX)))
	for _, p := range d.parts {
		if p.marked == nil {
			continue
		}
		p.shape.visit(k.grid, func(s spot) {
			if p.marked(s) {
				out.mark(s.i, reach)
			}
		})
	}
	out.Flaws = append(out.Flaws, f.name)
}

// mark sets a disc of the mask around a pixel.
func (out *Swatch) mark(i, reach int) {
	w, h := out.Mask.Rect.Dx(), out.Mask.Rect.Dy()
	x, y := i%w, i/w
	for v := max(y-reach, 0); v <= min(y+reach, h-1); v++ {
		for u := max(x-reach, 0); u <= min(x+reach, w-1); u++ {
			if (u-x)*(u-x)+(v-y)*(v-y) <= reach*reach {
				out.Mask.Pix[v*out.Mask.Stride+u] = 255
			}
		}
	}
}

// blot is a spilt or smeared dye: paint of another colour that lets the grain
// through, with a soft border.
func (m *maker) blot() (defect, bool) {
	at, ok := m.anywhere(4)
	if !ok {
		return defect{}, false
	}
	d := defect{kind: hide.Stain, visibility: m.vis()}
	var factor [3]float64
	for i := range factor {
		factor[i] = math.Exp(m.in(-.9, .5) * d.visibility)
	}
	soft, seed := m.in(.05, .35), m.noiseSeed()
	for range m.count(1, 3) {
		p, ok := m.near(at, m.log(1, 8))
		if !ok {
			continue
		}
		b := m.disc(p, m.log(1, 8), m.log(1, 3), m.in(.1, .5), 1.4)
		d.parts = append(d.parts, part{b, func(s spot) ink {
			k := step(1+soft, 1-soft, s.p) * (1 + .3*value(s.x/2, s.y/2, seed))
			a := plain()
			for i := range a.colour {
				a.colour[i] = math.Max(.05, 1+k*(factor[i]-1))
			}
			return a
		}, inBorder})
	}
	return d, len(d.parts) > 0
}

// slit is a cut with a knife: a thin dark line that gapes in its middle, its
// lips a little raised.
func (m *maker) slit() (defect, bool) {
	from, ok := m.anywhere(4)
	if !ok {
		return defect{}, false
	}
	d := defect{kind: hide.FlayCut, visibility: m.vis(), open: true}
	half := m.log(.12, .6)
	pts := m.path(from, m.turn(), m.log(6, 45), m.in(-.6, .6), .05)
	l := line{points: pts, reach: 4*half + .6}
	length := l.length()
	if length < 4 {
		return defect{}, false
	}
	gape := func(q float64) float64 { return math.Sqrt(clamp(4*q*(length-q)/(length*length), 0, 1)) }
	lip, dark := m.steepness(d.visibility, .05, .5)*half, clamp(m.in(.35, .95)*d.visibility, 0, .95)
	d.parts = []part{{l, func(s spot) ink {
		k := gape(s.q)
		x := s.p / (half * math.Max(k, .25))
		a := plain().shade(-dark * k * bell(x/.7))
		a.dh = lip * k * (bell((math.Abs(x)-1.4)/.5) - bell(x/.6))
		return a
	}, func(s spot) bool { return math.Abs(s.p) <= math.Max(.2, half*gape(s.q)*1.2) }}}
	return d, true
}

// crease is leather that was folded hard: a line of relief across the picture,
// its grain stretched flat, with fine side lines.
func (m *maker) crease() (defect, bool) {
	from, ok := m.anywhere(4)
	if !ok {
		return defect{}, false
	}
	d := defect{kind: hide.Wrinkle, visibility: m.vis()}
	half, heading := m.log(.6, 3), m.turn()
	pts := m.path(from, heading, m.log(20, 140), m.in(-.3, .3), .08)
	l := line{points: pts, reach: 4 * half}
	length := l.length()
	if length < 10 {
		return defect{}, false
	}
	seed, deep := m.noiseSeed(), m.steepness(d.visibility, .04, .3)*half
	strength := func(q float64) float64 { return pulse(q, length, 12, .4, seed) }
	tone := m.tone(d.visibility*m.in(0, .2), .5)
	d.parts = []part{{l, func(s spot) ink {
		k, x := strength(s.q), s.p/half
		a := plain()
		a.dh = -k * deep * (bell(x) - .4*bell((math.Abs(x)-2)/.7) + .25*value(s.p/half*2, s.q/(6*half), seed+3))
		return tone(a, k*bell(x))
	}, lineMark(1.3*half, strength)}}
	return d, true
}

// glue is a dried smear: it fills the grain, darkens and shines.
func (m *maker) glue() (defect, bool) {
	at, ok := m.anywhere(5)
	if !ok {
		return defect{}, false
	}
	d := defect{kind: hide.Stain, visibility: m.vis()}
	dark, shin := m.in(-.1, .35)*d.visibility, m.log(.01, .12)
	seed := m.noiseSeed()
	for range m.count(1, 4) {
		p, ok := m.near(at, m.log(1, 9))
		if !ok {
			continue
		}
		b := m.disc(p, m.log(.8, 7), m.log(1, 4), m.in(.1, .5), 1.2)
		high := m.log(.02, .12) * math.Min(b.rx, b.ry)
		d.parts = append(d.parts, part{b, func(s spot) ink {
			k := step(1.1, .85, s.p)
			a := plain().shade(-dark * k)
			a.shinAdd = shin * k
			a.dh = high * math.Sqrt(math.Max(0, 1-s.p*s.p)) * (1 + .3*value(s.x/3, s.y/3, seed))
			return a
		}, inBorder})
	}
	return d, len(d.parts) > 0
}

// prick is a hole or dent of an awl: small, dark, with a rim on one side.
func (m *maker) prick() (defect, bool) {
	at, ok := m.anywhere(4)
	if !ok {
		return defect{}, false
	}
	d := defect{kind: hide.Hole, visibility: m.vis(), open: true}
	dark := clamp(m.in(.3, .95)*d.visibility, 0, .95)
	for range m.count(1, 3) {
		p, ok := m.near(at, m.log(1, 15))
		if !ok {
			continue
		}
		r := m.log(.35, 1.6)
		deep, rim := m.steepness(d.visibility, .1, .5)*r, m.in(.1, .8)
		d.parts = append(d.parts, part{m.disc(p, r, m.log(1, 1.8), .2, 2.6), func(s spot) ink {
			a := plain().shade(-dark * bell(s.p/.6))
			a.dh = deep * (rim*bell((s.p-1.2)/.4) - bell(s.p/.6))
			return a
		}, inBorder})
	}
	return d, len(d.parts) > 0
}
