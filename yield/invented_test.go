package yield

import (
	"math"

	"pgregory.net/rapid"

	"hidechart/hide"
	"hidechart/plane"
)

func rect(x0, y0, x1, y1 float64) hide.Ring {
	return hide.Ring{at(x0, y0), at(x1, y0), at(x1, y1), at(x0, y1)}
}

func at(x, y float64) hide.Point { return hide.Point{X: hide.MM(x), Y: hide.MM(y)} }

func disc(x, y, r float64, n int) hide.Ring {
	out := make(hide.Ring, n)
	for i := range out {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / float64(n))
		out[i] = at(x+r*cos, y+r*sin)
	}
	return out
}

// square is a hide of 1 m² without flaws, its area exactly known.
func square() hide.Chart {
	p := hide.Polygon{Outer: rect(0, 0, 1000, 1000)}
	return hide.Chart{Format: hide.Format, Outline: p, Area: hide.Area{Value: p.Area()},
		Zones: []hide.ZoneShape{
			{Zone: hide.Neck, Geometry: hide.Shape{{Outer: rect(0, 0, 250, 1000)}}},
			{Zone: hide.Butt, Geometry: hide.Shape{{Outer: rect(250, 0, 1000, 1000)}}}}}
}

// candidate is a candidate of the given ring.
func candidate(id int, k hide.Kind, p float64, r hide.Ring) hide.Defect {
	s := hide.Shape{{Outer: r}}
	box := plane.MinRectangle(s)
	return hide.Defect{ID: id, Kind: k, Status: hide.Candidate, Probability: p, Geometry: s, Area: s.Area(), Length: box.Length, Width: box.Width, Zone: hide.Butt}
}

// plain counts every flaw without margin or strip.
func plain() Look { return Look{Name: "plain", Kinds: map[hide.Kind][]Clause{}} }

// inventedHide draws a hide with flaws of every kind, holes, and both states.
func inventedHide(t *rapid.T) hide.Chart {
	n := rapid.IntRange(12, 60).Draw(t, "vertices")
	outer := make(hide.Ring, n)
	for i := range outer {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / float64(n))
		r := rapid.Float64Range(300, 900).Draw(t, "r")
		outer[i] = at(1000+r*cos, 1000+r*sin)
	}
	c := hide.Chart{Format: hide.Format, Outline: hide.Polygon{Outer: outer}}
	c.Area = hide.Area{Value: c.Outline.Area(), U: c.Outline.Area() * 0.004}
	for i := range rapid.IntRange(0, 25).Draw(t, "flaws") {
		x, y := rapid.Float64Range(200, 1800).Draw(t, "x"), rapid.Float64Range(200, 1800).Draw(t, "y")
		w, h := rapid.Float64Range(1, 200).Draw(t, "w"), rapid.Float64Range(1, 60).Draw(t, "h")
		d := candidate(i+1, rapid.SampledFrom(hide.Kinds()).Draw(t, "kind"), rapid.Float64Range(0, 1).Draw(t, "p"), rect(x, y, x+w, y+h))
		d.Open = rapid.Bool().Draw(t, "open")
		d.Zone = rapid.SampledFrom(hide.Zones()).Draw(t, "zone")
		d.Status = rapid.SampledFrom([]hide.Status{hide.Candidate, hide.Candidate, hide.Confirmed, hide.Rejected, hide.Added}).Draw(t, "status")
		c.Defects = append(c.Defects, d)
	}
	return c
}
