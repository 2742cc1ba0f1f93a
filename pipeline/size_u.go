package pipeline

import (
	"math"

	"hidechart/hide"
)

// relativeU is the relative standard uncertainty of a length on the chart that is
// common to all of it: scale, lens and height of the area's budget, halved.
func relativeU(a hide.Area) float64 {
	if a.Value <= 0 {
		return 0
	}
	var square float64
	for _, p := range a.Budget {
		switch p.Source {
		case "scale", "lens", "height":
			square += float64(p.U) * float64(p.U)
		}
	}
	return math.Sqrt(square) / float64(a.Value) / 2
}

// sized states how sure each defect's sizes are. A hole's edge is placed as the
// hide's is. Another mark is drawn on the search raster: each side of it lies
// within a pixel of that or of the photograph, whichever is larger (rectangular,
// half-width one pixel: u = pixel/√3; JCGM 100:2008, 4.3.7), and its border is out by
// half a pixel all along at most, one way (half-width half a pixel). What a flaw's
// border is, where it fades, is a matter of opinion and not in it.
func (m *measured) sized(defects []hide.Defect, area hide.Area) []hide.Defect {
	common := relativeU(area)
	pixel := math.Max(float64(m.pixelMM), float64(m.params.Detect.WorkPixel))
	for i := range defects {
		d := &defects[i]
		end, border := pixel/math.Sqrt(3), pixel/2/math.Sqrt(3)
		if d.Kind == hide.Hole {
			border = float64(m.outline.EdgeU)
			end = math.Hypot(border, float64(m.pixelMM)/10) // an isoline is traced to a tenth of a pixel
		}
		length := func(l hide.MM) hide.MM {
			return hide.MM(math.Sqrt(2*end*end + common*common*float64(l*l)))
		}
		d.LengthU, d.WidthU = length(d.Length), length(d.Width)
		d.AreaU = hide.MM2(math.Hypot(border*perimeterOf(d.Geometry), 2*common*float64(d.Area)))
	}
	return defects
}

// perimeterOf is the length of all the shape's rings, mm.
func perimeterOf(s hide.Shape) float64 {
	var sum hide.MM
	for _, p := range s {
		sum += p.Outer.Length()
		for _, h := range p.Holes {
			sum += h.Length()
		}
	}
	return float64(sum)
}
