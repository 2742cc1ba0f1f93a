package pipeline

import (
	"fmt"
	"math"
	"slices"

	"hidechart/detect"
	"hidechart/hide"
)

const (
	// definitionU is how well a hide has an edge at all, as a standard uncertainty, mm: fibres,
	// a rim cut at a slant, its rounding (common practice, no source). Four captures
	// rendered by a program independent of this one were placed 0.15 mm RMS from their truth
	// with a stated 0.06 mm.
	definitionU = 0.1
	// shadeReach bounds how far outward the shade of the leather's own rim moves the edge
	// on a table lighter than the leather, as a share of the substance. A wall of height t
	// takes (1 − x/√(x²+t²))/2 of a wide even light from the table at a distance x,
	// t/2 in all, and t/π of a ring of lamps at 45°; of a sharp photograph the
	// half-way level lies 0 to 0.1 t out. 45 rendered hides (docs/adr/0020):
	// 0.1 to 0.6 mm on white tables, none on black ones. The lamps are not known,
	// so nothing is taken off; the standard uncertainty is that of a rectangle from 0 to
	// 0.3 t about zero, 0.3 t/√3.
	shadeReach = 0.3
)

// edgeU is the standard uncertainty of the place of the hide's edge, mm, common to
// all of it, with what the photograph itself cannot tell; shade is the part of
// the rim's shade.
func (m *measured) edgeU() (u, shade float64) {
	if m.lighter {
		shade = shadeReach * float64(m.substance) / math.Sqrt(3)
	}
	return math.Sqrt(math.Pow(float64(m.outline.EdgeU), 2) + definitionU*definitionU + shade*shade), shade
}

// edgePart is the place of the edge along the hide and its holes.
func edgePart(m measured) hide.BudgetPart {
	perimeter := float64(hide.Shape{m.outline.Polygon}.Perimeter())
	u, shade := m.edgeU()
	text := fmt.Sprintf("edge placed to %.3f mm along %.2f m: blur, pixel, contrast and noise of the edge itself %.3f, what the rim of a hide is %.3f", u, perimeter/1000, float64(m.outline.EdgeU), definitionU)
	if shade > 0 {
		text += fmt.Sprintf(", the rim's shade on a table lighter than the leather %.3f", shade)
	}
	return hide.BudgetPart{Source: "edge", Quantity: "place of the edge, outward", Value: 0, Unit: "mm", InputU: u, Distribution: "normal", Type: "B",
		Sensitivity: perimeter, U: hide.MM2(u * perimeter), Text: text}
}

const (
	besideMM     = 8   // off the edge where leather and table are read: beyond blur, shade and rim, within the margin of every raster
	besidePlaces = 400 // along the edge: their median stands a quarter of them on tags, folds and stains
)

// lighterTable tells whether the table beside the hide shows lighter than the leather
// under top light, by the medians of places beside the edge.
func lighterTable(fine detect.Photos, outer hide.Ring) bool {
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
		return false
	}
	slices.Sort(leather)
	slices.Sort(table)
	return table[len(table)/2] > leather[len(leather)/2]
}
