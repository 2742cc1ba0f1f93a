package scene

import (
	"math"

	"hidechart/hide"
)

// disc draws a blob of about the given radius at a point.
func (m *maker) disc(at hide.Point, radius, ratio, wavy, reach float64) blob {
	k := math.Sqrt(ratio)
	return blob{at: at, rx: radius * k, ry: radius / k, angle: m.turn(), wavy: wavy, seed: m.noiseSeed(), reach: reach, lobes: m.in(2, 7)}
}

func inBorder(s spot) bool { return s.p <= 1 }

// near draws a point scattered around another, on the hide.
func (m *maker) near(at hide.Point, spread float64) (hide.Point, bool) {
	r, a := spread*math.Sqrt(-2*math.Log(1-m.Float64()*.98)), m.turn() // Box & Muller 1958, cut at 2.8 sigma
	sin, cos := math.Sincos(a)
	p := hide.Point{X: at.X + hide.MM(r*cos), Y: at.Y + hide.MM(r*sin)}
	return p, m.inside.at(float64(p.X), float64(p.Y)) > 8
}

// bites are a cluster of small pits left by ticks or insects.
func (m *maker) bites() (defect, bool) {
	at, ok := m.anywhere(30)
	if !ok {
		return defect{}, false
	}
	d := defect{kind: hide.Bites, visibility: m.vis(), open: m.chance(.35)}
	spread, size := m.log(12, 95), m.log(.8, 2.6)
	tone := m.tone(d.visibility*m.in(.08, .35), .25)
	if d.open {
		tone = m.tone(d.visibility*m.in(.3, .65), 0)
	}
	rim := m.in(0, .8)
	for range m.count(4, 40) {
		p, ok := m.near(at, spread)
		if !ok {
			continue
		}
		r := size * m.log(.65, 1.5)
		deep := m.steepness(d.visibility, .03, .28) * r
		d.parts = append(d.parts, part{m.disc(p, r, m.log(1, 1.5), .15, 2.6), func(s spot) ink {
			a := plain()
			a.dh = deep * (rim*.5*bell((s.p-1.4)/.4) - bell(s.p/.65))
			return tone(a, bell(s.p/.7))
		}, inBorder})
	}
	return d, len(d.parts) > 0
}

// wart is one or several raised round spots with a rough top.
func (m *maker) wart() (defect, bool) {
	at, ok := m.anywhere(20)
	if !ok {
		return defect{}, false
	}
	d := defect{kind: hide.Wart, visibility: m.vis()}
	tone := m.tone(d.visibility*m.in(.01, .28), .4)
	for range m.count(1, 8) {
		p, ok := m.near(at, m.log(6, 45))
		if !ok {
			continue
		}
		r, rough, seed := m.log(1.5, 6), m.in(0, .5), m.noiseSeed()
		high := m.steepness(d.visibility, .035, .28) * r
		d.parts = append(d.parts, part{m.disc(p, r, m.log(1, 1.4), .12, 1.6), func(s spot) ink {
			a := plain()
			k := step(1.3, .3, s.p)
			a.dh = high * k * (1 + rough*value(s.x/1.3, s.y/1.3, seed))
			return tone(a, k)
		}, inBorder})
	}
	return d, len(d.parts) > 0
}

// stain is a change of colour without relief.
func (m *maker) stain() (defect, bool) {
	at, ok := m.anywhere(25)
	if !ok {
		return defect{}, false
	}
	d := defect{kind: hide.Stain, visibility: m.vis()}
	tone := m.tone(d.visibility*m.in(.08, .32), .25)
	soft, ring, seed := m.in(.06, .45)*(1-m.leather.crisp), m.in(-.3, .7), m.noiseSeed()
	cloudy := .25 * (1 - m.leather.crisp)
	b := m.disc(at, m.log(7, 75), m.log(1, 2.5), m.in(.1, .45), 1.5)
	d.parts = []part{{b, func(s spot) ink {
		k := step(1+soft, 1-soft, s.p) * (1 + cloudy*value(s.x/9, s.y/9, seed))
		k += ring * bell((s.p-.92)/.08) * .6 // a drying edge
		return tone(plain(), k)
	}, inBorder}}
	return d, true
}

// loose is loose grain: a coarse ripple of 3 to 12 mm where the skin is
// slack, at flank and belly, sometimes at the neck.
func (m *maker) loose() (defect, bool) {
	at, ok := m.spotIn(.3, .85, .45, .95, 35)
	if m.chance(.15) {
		at, ok = m.spotIn(.1, .3, .3, .8, 35)
	}
	if !ok {
		return defect{}, false
	}
	d := defect{kind: hide.Loose, visibility: m.vis()}
	b := m.disc(at, m.log(45, 150), m.log(1.2, 3), m.in(.1, .3), 1.15)
	b.angle = m.lay.angle + m.in(-.4, .4)
	wavelength, seed := m.in(3, 12), m.noiseSeed()
	dir := b.angle + m.in(-.9, .9)
	sin, cos := math.Sincos(dir)
	// a sine of height a has slope 2πa/λ; the ripple is broken by noise
	high := m.steepness(d.visibility, .015, .16) * wavelength / (2 * math.Pi)
	tone := m.tone(d.visibility*m.in(0, .06), .3)
	d.parts = []part{{b, func(s spot) ink {
		k := step(1.12, .75, s.p)
		u, v := s.x*cos+s.y*sin, -s.x*sin+s.y*cos
		bend := 2.2 * value(u/(3*wavelength), v/(5*wavelength), seed)
		w := math.Sin(2*math.Pi*u/wavelength+2*bend) * (.65 + .5*value(u/(2*wavelength), v/(2.5*wavelength), seed+1))
		a := plain()
		a.dh = high * k * (w + .5*value(u/wavelength*2, v/wavelength, seed+2))
		return tone(a, k*(.5-.5*w))
	}, inBorder}}
	return d, true
}

// thin is a spot shaved too thin: hardly seen from above, bright against the
// back light.
func (m *maker) thin() (defect, bool) {
	at, ok := m.anywhere(25)
	if !ok {
		return defect{}, false
	}
	d := defect{kind: hide.Thin, visibility: m.vis()}
	b := m.disc(at, m.log(6, 45), m.log(1, 3), m.in(.05, .35), 1.5)
	soft := m.in(.05, .35)
	more, add := 1+d.visibility*m.log(.6, 4), d.visibility*m.log(.003, .05)
	deep, tone := m.steepness(d.visibility, .005, .05)*b.ry*soft, m.tone(d.visibility*m.in(0, .06), .5)
	d.parts = []part{{b, func(s spot) ink {
		k := step(1+soft, 1-soft, s.p)
		a := plain()
		a.dh, a.passMul, a.passAdd = -deep*k, 1+(more-1)*k, add*k
		return tone(a, k)
	}, inBorder}}
	return d, true
}

// hole goes through the leather. Around it the leather dips or its lips
// stand up.
func (m *maker) hole() (defect, bool) {
	r := m.log(1.6, 22)
	at, ok := m.anywhere(r*2.5 + 12)
	if !ok {
		return defect{}, false
	}
	for _, t := range m.taken {
		if float64(t.Distance(at)) < 130 { // mm: twice the longest hole
			return defect{}, false
		}
	}
	m.taken = append(m.taken, at)
	d := defect{kind: hide.Hole, visibility: 1, open: true}
	b := m.disc(at, r, m.log(1, 3.2), m.in(0, .35), 1)
	d.holes = []hide.Ring{b.ring()}
	lips := b
	lips.reach = 2.2
	high := m.in(-.2, .35) * math.Min(1.5, .4*r)
	tone := m.tone(m.in(0, .25), .2)
	d.parts = []part{{lips, func(s spot) ink {
		a := plain()
		a.dh = high * bell((s.p-1)/.35)
		return tone(a, bell((s.p-1)/.15))
	}, nil}}
	return d, true
}
