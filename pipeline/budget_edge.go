package pipeline

import (
	"fmt"
	"math"
	"slices"

	"hidechart/detect"
	"hidechart/hide"
)

// definitionU is how well a hide has an edge at all, as a standard uncertainty, mm: fibres,
// a rim cut at a slant, its rounding (common practice, no source). Four captures
// rendered by a program independent of this one were placed 0.15 mm RMS from their truth
// with a stated 0.06 mm.
const definitionU = 0.1

// edgeU is the standard uncertainty of the place of the hide's edge, mm, common to
// all of it, with what the photograph itself cannot tell; shade is the part of
// the rim's shade.
func (m *measured) edgeU() (u, shade float64) {
	shade = rimShade(m.contrast, float64(m.substance), float64(m.outline.Blur))
	return math.Sqrt(math.Pow(float64(m.outline.EdgeU), 2) + definitionU*definitionU + shade*shade), shade
}

const (
	// shadeShare of how far out the rim's shade can move the edge that it is taken to at most:
	// 45 rendered hides on white tables (docs/adr/0020) and those of docs/adr/0049.
	shadeShare = 0.5
	// leastReach is how far out it moves the edge at least, as a share of the substance: of sharp photographs
	// and full contrast 0 to 0.1 (docs/adr/0020), of others up to 0.2.
	leastReach = 0.15
	// leastContrast is taken where there is less: the edge is then placed by colour, if at all.
	leastContrast = 0.03
)

// rimShade is how far the shade of the leather's own rim moves the edge, as a standard uncertainty, mm.
// contrast is 1 − leather/table beside the edge under top light, substance the rim's height,
// blur its photograph's standard deviation.
//
// A wall of height t takes (1 − x/√(x²+t²))/2 of a wide even light from the table at a distance x.
// A table lighter than the leather is as dark as half-way to it where that is half of the contrast, at x = t·r/√(1−r²)
// with r = 1 − contrast. On a darker table the shade is a dark line of t/2 in all beside a step: it moves the
// half-way level in by z deviations of the blur, where it takes as much as half of the step,
// φ(z)·t/blur = step/table. The lamps are not known, so nothing is taken off; the standard uncertainty is that
// of a rectangle about zero.
func rimShade(contrast, substance, blur float64) float64 {
	if contrast > 0 {
		rest := 1 - max(contrast, leastContrast)
		return substance * max(leastReach, shadeShare*rest/math.Sqrt(1-rest*rest)) / math.Sqrt(3)
	}
	line := math.Sqrt(2*math.Pi) * max(-contrast, leastContrast) * blur / substance
	if blur == 0 || line >= 1 {
		return 0
	}
	return blur * math.Sqrt(-2*math.Log(line)) / math.Sqrt(3)
}

// edgePart is the place of the edge along the hide and its holes.
func edgePart(m measured) hide.BudgetPart {
	perimeter := float64(hide.Shape{m.outline.Polygon}.Perimeter())
	u, shade := m.edgeU()
	text := fmt.Sprintf("edge placed to %.3f mm along %.2f m: blur, pixel, contrast and noise of the edge itself %.3f, what the rim of a hide is %.3f", u, perimeter/1000, float64(m.outline.EdgeU), definitionU)
	if shade > 0 {
		text += fmt.Sprintf(", the rim's shade on the table %.3f", shade)
	}
	return hide.BudgetPart{Source: "edge", Quantity: "place of the edge, outward", Value: 0, Unit: "mm", InputU: u, Distribution: "normal", Type: "B",
		Sensitivity: perimeter, U: hide.MM2(u * perimeter), Text: text}
}

const (
	besideMM     = 8   // off the edge where leather and table are read: beyond blur, shade and rim, within the margin of every raster
	besidePlaces = 400 // along the edge: their median stands a quarter of them on tags, folds and stains
)

// contrastBeside is 1 − leather/table under top light, by the medians of places beside the edge: above 0
// where the table is lighter.
func contrastBeside(fine detect.Photos, outer hide.Ring) float64 {
	im, g := fine.Lights[hide.Top], fine.Grid
	data, ch := im.Uint16s(), im.Channels()
	level := func(p hide.Point) (v float64, ok bool) {
		at := g.ToRaster(p)
		x, y := int(math.Round(float64(at.X))), int(math.Round(float64(at.Y)))
		if x < 0 || y < 0 || x >= g.Width || y >= g.Height {
			return 0, false
		}
		for _, c := range data[(y*g.Width+x)*ch : (y*g.Width+x+1)*ch] {
			v += float64(c)
		}
		return v, true
	}
	var leather, table []float64
	n := len(outer)
	step := max(1, n/besidePlaces)
	for i := 0; i < n; i += step {
		a, b := outer[i], outer[(i+step)%n]
		l := a.Distance(b)
		if l == 0 {
			continue
		}
		mid := hide.Point{X: (a.X + b.X) / 2, Y: (a.Y + b.Y) / 2}
		out := hide.Point{X: (b.Y - a.Y) / l * besideMM, Y: (a.X - b.X) / l * besideMM} // counter-clockwise: to the right is out
		if v, ok := level(hide.Point{X: mid.X - out.X, Y: mid.Y - out.Y}); ok {
			leather = append(leather, v)
		}
		if v, ok := level(hide.Point{X: mid.X + out.X, Y: mid.Y + out.Y}); ok {
			table = append(table, v)
		}
	}
	if len(leather) == 0 || len(table) == 0 {
		return 0
	}
	slices.Sort(leather)
	slices.Sort(table)
	return 1 - leather[len(leather)/2]/max(table[len(table)/2], 1)
}
