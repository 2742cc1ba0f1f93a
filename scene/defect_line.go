package scene

import (
	"math"

	"hidechart/hide"
)

// scar is a wound of the living animal: healed, a smooth ridge or a shallow
// furrow with a slightly other colour; open, a dark crack with raised lips.
func (m *maker) scar() (defect, bool) {
	from, ok := m.lineStart()
	if !ok {
		return defect{}, false
	}
	d := defect{kind: hide.Scar, visibility: m.vis(), open: m.chance(.3)}
	length, half := m.log(14, 330), m.log(.6, 2.6)
	pts := m.path(from, m.heading(from), length, m.in(-1, 1), m.in(.05, .5))
	m.lines = append(m.lines, pts)
	l := line{points: pts, reach: 4*half + 2}
	length = l.length()
	if length < 8 {
		return defect{}, false
	}
	seed, unrest := m.noiseSeed(), m.in(.1, .7)
	strength := func(q float64) float64 { return pulse(q, length, 6*half, unrest, seed) }
	// a healed wound is a welt: relief first, and hardly any colour on many
	tone := m.tone(d.visibility*m.in(.01, .26), .5)
	rise := m.steepness(d.visibility, .035, .26) * half * 1.6
	if d.open {
		tone = m.tone(d.visibility*m.in(.3, .7), 0)
		rise *= 1.6
	}
	profile, shin := m.scarProfile(d.open), m.in(.8, 2)
	d.parts = []part{{l, func(s spot) ink {
		k, x := strength(s.q), s.p/half
		a := tone(plain(), k*bell(x))
		a.dh = k * rise * profile(x)
		a.shinMul = 1 + (shin-1)*k*bell(x)
		return a
	}, lineMark(half, strength)}}
	return d, true
}

// scarProfile is the height across a scar, x in half widths: a crack with
// raised lips when open, else a ridge or, less often, a furrow.
func (m *maker) scarProfile(open bool) func(x float64) float64 {
	furrow := m.chance(.3)
	switch {
	case open:
		return func(x float64) float64 { return .7*bell((math.Abs(x)-1.6)/.6) - bell(x/.6) }
	case furrow:
		return func(x float64) float64 { return -bell(x) }
	default:
		return func(x float64) float64 { return bell(x) - .25*bell((math.Abs(x)-2)/.7) }
	}
}

// lineMark marks a line where it is half as wide as drawn and stands at a
// third of its strength or more; never thinner than a millimetre.
func lineMark(half float64, strength func(q float64) float64) func(spot) bool {
	return func(s spot) bool {
		return math.Abs(s.p) <= math.Max(.5, half*1.1) && strength(s.q) >= .33
	}
}

// scratch is a scrape of a thorn, a wire or a nail: one thin stroke or a bundle,
// each stroke nearly straight, side by side or spreading from one end.
func (m *maker) scratch() (defect, bool) {
	from, ok := m.lineStart()
	if !ok {
		return defect{}, false
	}
	d := defect{kind: hide.Scratch, visibility: m.vis(), open: m.chance(.3)}
	heading, bend, length := m.heading(from), math.Pow(m.in(-.8, .8), 3), m.log(20, 320) // most of them straight
	gap, spread, strokes := m.log(1.5, 20), math.Max(0, m.in(-.15, .25)), 1
	if m.chance(.55) {
		strokes = m.count(2, 5)
	}
	// a scrape takes off the finish, and most plough a groove too
	tone, depth := m.tone(d.visibility*m.log(.12, .6), .25), 1-m.leather.scuffed
	if m.chance(.15) {
		depth = 0
	}
	for i := range strokes {
		off := gap * (float64(i) - float64(strokes-1)/2) * m.in(.7, 1.3)
		heading := heading + spread*m.in(-1, 1)
		start, end := m.in(0, .3)*length, m.in(.7, 1)*length
		sin, cos := math.Sincos(heading)
		p := hide.Point{X: from.X + hide.MM(start*cos-off*sin), Y: from.Y + hide.MM(start*sin+off*cos)}
		pts := m.path(p, heading+bend*start/length, end-start, bend*(end-start)/length, .04)
		if len(pts) < 5 {
			continue
		}
		m.lines = append(m.lines, pts)
		d.parts = append(d.parts, m.groove(pts, m.log(.25, 1.6), depth*d.visibility, tone))
	}
	return d, len(d.parts) > 0
}

// groove is one thin furrow with a bright or dark bottom; vis 0 is flat.
func (m *maker) groove(pts []hide.Point, half, vis float64, tone func(ink, float64) ink) part {
	l := line{points: pts, reach: 3*half + 1}
	length := l.length()
	seed, unrest, taper := m.noiseSeed(), m.in(.05, .7), m.log(6, 40)
	strength := func(q float64) float64 { return pulse(q, length, taper, unrest, seed) }
	deep := m.steepness(vis, .02, .28) * half * 1.6
	return part{l, func(s spot) ink {
		k, x := strength(s.q), s.p/half
		a := plain()
		a.dh = -k * deep * (bell(x) - .3*bell((math.Abs(x)-1.8)/.6))
		return tone(a, k*bell(x))
	}, lineMark(math.Max(half, .68), strength)}
}

// flayCut is the knife's cut from the flesh side: a slit with one lip up,
// through which some of the back light comes.
func (m *maker) flayCut() (defect, bool) {
	from, ok := m.anywhere(12)
	if !ok {
		return defect{}, false
	}
	d := defect{kind: hide.FlayCut, visibility: m.vis(), open: true}
	half := m.log(.4, 1.8)
	pts := m.path(from, m.turn(), m.log(12, 130), m.in(-1.2, 1.2), .08)
	l := line{points: pts, reach: 3*half + 2}
	length := l.length()
	if length < 8 {
		return defect{}, false
	}
	strength := func(q float64) float64 { return math.Sqrt(clamp(4*q*(length-q)/(length*length), 0, 1)) }
	lip, deep := m.steepness(d.visibility, .03, .3)*half, m.steepness(d.visibility, .08, .3)*half
	tone := m.tone(d.visibility*m.in(.15, .6), .1)
	light := d.visibility * m.log(.02, .22)
	d.parts = []part{{l, func(s spot) ink {
		k := strength(s.q)
		x := s.p / (half * math.Max(k, .2))
		a := plain()
		a.dh = k * (lip*bell((x-1.4)/.7) - deep*bell(x/.7))
		a.passAdd = light * k * bell(x/.7)
		return tone(a, k*bell(x/.8))
	}, func(s spot) bool { return math.Abs(s.p) <= math.Max(.5, half*strength(s.q)*1.1) }}}
	return d, true
}

// wrinkles are the folds across the neck.
func (m *maker) wrinkles() (defect, bool) {
	d := defect{kind: hide.Wrinkle, visibility: m.vis()}
	at, step := m.in(.03, .10)*m.lay.length, m.log(14, 60)
	across := m.in(.12, .36) * m.lay.half * 2
	mid := m.in(-.1, .1) * m.lay.half
	if m.lay.side {
		mid = across/2 + 15
	}
	sag := m.in(-.15, .15)
	for i, n := 0, m.count(2, 9); i < n; i++ {
		if p, ok := m.fold(at+float64(i)*step*m.in(.7, 1.3), mid, across*m.in(.5, 1), sag, d.visibility); ok {
			d.parts = append(d.parts, p)
		}
	}
	return d, len(d.parts) > 0
}

// fold is one wrinkle at x along the backbone.
func (m *maker) fold(x, mid, across, sag, vis float64) (part, bool) {
	seed, half := m.noiseSeed(), m.log(1.3, 4.5)
	var pts []hide.Point
	shift := m.in(-.15, .15) * across
	for y := -across / 2; y <= across/2; y += 3 {
		p := place{x + sag*(y*y/across) + 7*wave(y/45, seed, 3), mid + y + shift}
		t := m.lay.toTable(p)
		if m.inside.at(float64(t.X), float64(t.Y)) > 6 {
			pts = append(pts, t)
		} else if len(pts) > 0 {
			break
		}
	}
	if len(pts) < 14 { // 40 mm
		return part{}, false
	}
	l := line{points: pts, reach: 4 * half}
	length, unrest := l.length(), m.in(.2, .9)
	strength := func(q float64) float64 { return pulse(q, length, 40, unrest, seed+9) }
	deep := m.steepness(vis, .015, .16) * half * 1.6
	tone := m.tone(vis*m.in(.02, .16), .25)
	return part{l, func(s spot) ink {
		k, u := strength(s.q), s.p/half
		a := plain()
		a.dh = -k * deep * (bell(u) - .35*bell((math.Abs(u)-2.1)/.8))
		return tone(a, k*bell(u))
	}, lineMark(half, strength)}, true
}

// vein is the print of a blood vessel: thin lines that branch.
func (m *maker) vein() (defect, bool) {
	from, ok := m.spotIn(.1, .95, .15, .9, 30)
	if !ok {
		return defect{}, false
	}
	d := defect{kind: hide.Vein, visibility: m.vis()}
	tone := m.tone(d.visibility*m.in(.09, .3), .3)
	m.branch(&d, from, m.turn(), m.log(60, 330), m.log(.6, 1.8), tone, 3)
	return d, len(d.parts) > 0
}

func (m *maker) branch(d *defect, from hide.Point, heading, length, half float64, tone func(ink, float64) ink, depth int) {
	pts := m.path(from, heading, length, m.in(-.8, .8), .45)
	if len(pts) < 6 {
		return
	}
	d.parts = append(d.parts, m.vessel(pts, half, d.visibility, tone))
	if depth == 0 {
		return
	}
	for range m.count(1, 3) {
		i := m.count(len(pts)/5, len(pts)*4/5)
		p, q := pts[i], pts[min(i+2, len(pts)-1)]
		a := math.Atan2(float64(q.Y-p.Y), float64(q.X-p.X))
		side := 1.0
		if m.chance(.5) {
			side = -1
		}
		m.branch(d, p, a+side*m.in(.35, 1), length*m.in(.3, .65), half*m.in(.55, .85), tone, depth-1-m.count(0, 1)*min(1, depth-1))
	}
}

func (m *maker) vessel(pts []hide.Point, half, vis float64, tone func(ink, float64) ink) part {
	l := line{points: pts, reach: 4*half + 1}
	length := l.length()
	deep := m.steepness(vis, .02, .12) * half * 1.6
	if m.chance(.3) {
		deep = -deep
	}
	strength := func(q float64) float64 { return clamp((length-q)/20, 0, 1) }
	return part{l, func(s spot) ink {
		k, x := strength(s.q), s.p/half
		a := plain()
		a.dh = -k * deep * bell(x)
		return tone(a, k*bell(x))
	}, lineMark(half, strength)}
}
