package score

import (
	"image"
	"math"
	"slices"

	"hidechart/hide"
)

// holes asks of every true hole of holeSize or more whether it is charted as a
// hole (an inner ring of the outline, or a candidate of kind hole with
// p ≥ Certain, over foundShare of it), and counts charted holes that come
// nowhere near a true one. An inner ring and a candidate in one place are one
// hole.
func (r *Result) holes(chart hide.Chart, m matching) {
	t := m.truth
	charted := newPatch(image.Rect(0, 0, t.Grid.Width, t.Grid.Height))
	for _, s := range chartedHoles(chart) {
		fill(s, t.Grid).each(t.Grid.Width, func(i int) { charted.in[i] = true })
	}
	near := charted.grown(float64(nearCandidate/t.Grid.MMPerPX), t.Grid)
	hits := make([]int, len(t.Defects))
	for i, id := range t.ID {
		if id != 0 && near.in[i] {
			hits[id-1]++
		}
	}
	for i, d := range t.Defects {
		if d.Kind != hide.Hole || d.Pixels == 0 || holeDiameter(d) < holeSize {
			continue
		}
		r.Holes++
		r.HolesHit += count(float64(hits[i]) >= foundShare*float64(d.Pixels))
	}
	r.HoleRecall = ratio(r.HolesHit, r.Holes)
	genuine := t.patchOf(func(d TruthDefect) bool { return d.Kind == hide.Hole })
	r.InventedHoles = partsApart(charted, genuine.grown(float64(nearTruth/t.Grid.MMPerPX), t.Grid), t.Grid.Width)
}

// chartedHoles are the places the chart calls a hole.
func chartedHoles(chart hide.Chart) []hide.Shape {
	var out []hide.Shape
	for _, ring := range chart.Outline.Holes {
		out = append(out, hide.Shape{{Outer: ring}})
	}
	for _, d := range candidates(chart) {
		if d.Kind == hide.Hole && d.Probability >= Certain {
			out = append(out, d.Geometry)
		}
	}
	return out
}

// holeDiameter is the diameter of a circle of the hole's area.
func holeDiameter(d TruthDefect) hide.MM {
	return hide.MM(2 * math.Sqrt(float64(d.Area)/math.Pi))
}

// partsApart counts the connected parts (eight neighbours) of p that share no
// pixel with near. Both cover the whole grid.
func partsApart(p, near patch, width int) int {
	apart := 0
	for _, part := range regionsOf(p.in, width) {
		apart += count(!slices.ContainsFunc(part, func(i int) bool { return near.in[i] }))
	}
	return apart
}
