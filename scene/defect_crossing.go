package scene

import (
	"math"
	"slices"

	"hidechart/hide"
)

// crossings are scars and scratches over a share of those drawn so far.
func (m *maker) crossings(share float64) []defect {
	if share == 0 {
		return nil
	}
	var out []defect
	for _, l := range slices.Clone(m.lines) {
		if !m.chance(share) {
			continue
		}
		m.across = l
		draw := m.scar
		if m.chance(.4) {
			draw = m.scratch
		}
		if d, ok := draw(); ok {
			out = append(out, d)
		}
	}
	m.across = nil
	return out
}

// lineStart is where a scar or scratch begins: anywhere, or up to a hand from the line that it crosses.
func (m *maker) lineStart() (hide.Point, bool) {
	if m.across == nil {
		return m.anywhere(15)
	}
	q := m.target()
	sin, cos := math.Sincos(m.turn())
	off := m.log(3, 90)
	p := hide.Point{X: q.X + hide.MM(off*cos), Y: q.Y + hide.MM(off*sin)}
	return p, m.inside.at(float64(p.X), float64(p.Y)) > 15
}

// heading is any direction, or about that of the line that it crosses.
func (m *maker) heading(from hide.Point) float64 {
	if m.across == nil {
		return m.turn()
	}
	q := m.target()
	return math.Atan2(float64(q.Y-from.Y), float64(q.X-from.X)) + m.in(-.3, .3)
}

// target is a place of the line that the next one crosses.
func (m *maker) target() hide.Point { return m.across[m.IntN(len(m.across))] }
