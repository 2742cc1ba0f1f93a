package scene

import (
	"math"
)

// lookAlike is something harmless that might be taken for a defect. It is
// not in the truth label.
type lookAlike struct {
	kind  string
	parts []part
	box   [4]float64 // xmin, ymin, xmax, ymax, mm
}

// drawLookAlikes strews lint, hair, dust, chalk, drops of water and the shade
// of a fold over the hide. Mottling, glare, neck lines and seams of the table
// are part of the leather, the light and the table, and need no entry here.
func (m *maker) drawLookAlikes() []lookAlike {
	var out []lookAlike
	add := func(most int, kind string, shape func() []part) {
		for range m.count(0, most) {
			if p := shape(); len(p) > 0 {
				out = append(out, lookAlike{kind: kind, parts: p})
			}
		}
	}
	add(7, "lint", m.lint)
	add(5, "hair", m.hair)
	add(2, "dust", m.dust)
	add(2, "chalk", m.chalk)
	add(2, "drop", m.drop)
	add(2, "fold_shade", m.foldShade)
	return out
}

func cover1(paint [3]float64, over float64) ink {
	a := plain()
	a.paint, a.over = paint, clamp(over, 0, 1)
	return a
}

// lint is a short curled fibre, light or dark.
func (m *maker) lint() []part {
	at, ok := m.anywhere(15)
	if !ok {
		return nil
	}
	grey := m.log(.03, .7)
	half, over := m.log(.12, .4), m.in(.3, .9)
	pts := m.path(at, m.turn(), m.log(4, 35), m.in(-5, 5), m.in(.3, 2))
	return []part{{line{points: pts, reach: 3*half + .6}, func(s spot) ink {
		return cover1([3]float64{grey, grey, grey * 1.05}, over*bell(s.p/half/1.2))
	}, nil}}
}

// hair is a longer, smooth, dark or pale line.
func (m *maker) hair() []part {
	at, ok := m.anywhere(20)
	if !ok {
		return nil
	}
	c := [3]float64{m.log(.02, .4), 0, 0}
	c[1], c[2] = c[0]*.8, c[0]*.6
	half, over := m.in(.05, .16), m.in(.4, .9)
	pts := m.path(at, m.turn(), m.log(25, 130), m.in(-2.5, 2.5), .25)
	return []part{{line{points: pts, reach: 1.4}, func(s spot) ink {
		return cover1(c, over*bell(s.p/math.Max(half, .3))*math.Min(1, half/.15))
	}, nil}}
}

// dust is a cluster of tiny specks.
func (m *maker) dust() []part {
	at, ok := m.anywhere(30)
	if !ok {
		return nil
	}
	grey := m.in(.3, .7)
	var out []part
	for range m.count(6, 40) {
		p, ok := m.near(at, m.log(10, 120))
		if !ok {
			continue
		}
		over := m.in(.15, .6)
		out = append(out, part{m.disc(p, m.log(.25, .7), m.log(1, 2), .2, 2), func(s spot) ink {
			return cover1([3]float64{grey, grey, grey}, over*step(1.6, .4, s.p))
		}, nil})
	}
	return out
}

// chalk is a sorter's mark: a broad, broken, pale stroke or two.
func (m *maker) chalk() []part {
	at, ok := m.anywhere(60)
	if !ok {
		return nil
	}
	tints := [][3]float64{{.75, .74, .7}, {.7, .7, .35}, {.35, .5, .7}}
	paint := tints[m.IntN(len(tints))]
	half, over, angle, size := m.log(1.5, 4.5), m.in(.15, .6), m.turn(), m.log(30, 110)
	var out []part
	for _, stroke := range m.figure() {
		seed := m.noiseSeed()
		pts := m.drawn(stroke, at, angle, size, 0)
		out = append(out, part{line{points: pts, reach: 1.6 * half}, func(s spot) ink {
			k := step(1.3, .6, math.Abs(s.p)/half) * step(-.5, .5, value(s.x/1.1, s.y/1.1, seed)+.6*value(s.x/5, s.y/5, seed+1))
			return cover1(paint, over*k)
		}, nil})
	}
	return out
}

// drop is a drop of water or its sheen: a little darker, shinier, domed.
func (m *maker) drop() []part {
	at, ok := m.anywhere(25)
	if !ok {
		return nil
	}
	b := m.disc(at, m.log(2.5, 9), m.log(1, 1.5), .12, 1.3)
	dark, shin, high := m.in(.02, .08), m.in(.005, .04), m.in(.02, .08)*b.ry
	return []part{{b, func(s spot) ink {
		k := step(1.15, .85, s.p)
		a := plain().shade(-dark * k)
		a.shinAdd, a.dh = shin*k, high*k*math.Max(0, 1-s.p*s.p)
		return a
	}, nil}}
}

// foldShade is the soft shade of a fold that the hide had in the pile: a
// broad, straight, weak undulation from edge to edge.
func (m *maker) foldShade() []part {
	at, ok := m.anywhere(120)
	if !ok {
		return nil
	}
	half, slope := m.log(12, 45), m.log(.02, .08)
	if m.chance(.5) {
		slope = -slope
	}
	angle := m.turn()
	pts := m.path(at, angle, m.in(200, 900), m.in(-.2, .2), .05)
	l := line{points: pts, reach: 3 * half}
	length, tone := l.length(), m.in(-.03, .03)
	return []part{{l, func(s spot) ink {
		k := clamp(math.Min(s.q, length-s.q)/120, 0, 1)
		k = fade(k) * bell(s.p/half)
		a := plain().shade(tone * k)
		a.dh = slope * half * k
		return a
	}, nil}}
}
