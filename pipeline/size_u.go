package pipeline

import (
	"math"

	"hidechart/hide"
)

// sized states how sure each defect's sizes are. A hole's edge is placed as the
// hide's is. Another mark is drawn on the search raster: each side of it lies
// within a pixel of that or of the photograph, whichever is larger (rectangular,
// half-width one pixel: u = pixel/√3; JCGM 100:2008, 4.3.7), and its border is out by
// half a pixel all along at most, one way (half-width half a pixel). What a flaw's
// border is, where it fades, is a matter of opinion and not in it.
func (m *measured) sized(defects []hide.Defect, area hide.Area) []hide.Defect {
	pixel := max(m.pixelMM, hide.MM(m.params.Detect.WorkPixel))
	mark := hide.Placed{End: pixel / hide.MM(math.Sqrt(3)), Border: pixel / 2 / hide.MM(math.Sqrt(3))}
	u, _ := m.edgeU()
	edge := hide.MM(u)
	// an isoline is traced to a tenth of a pixel
	hole := hide.Placed{End: hide.MM(math.Hypot(float64(edge), float64(m.pixelMM)/10)), Border: edge}
	for i := range defects {
		at := mark
		if defects[i].Kind == hide.Hole {
			at = hole
		}
		defects[i].SetU(area, at)
	}
	return defects
}

const (
	// foundBackboneU is the standard uncertainty of a backbone's length found from
	// the outline, as a share of it. 80 rendered hides and sides of known backbone: 0.14 %
	// RMS; 400 contours made hard on purpose (plane, TestFrameOfInventedHides): each
	// end within 0.29 % in half of them, 0.92 % in nine of ten. 0.4 % holds for both.
	foundBackboneU = 0.004
	// statedEndU is that of each end of a backbone that a person states, mm: to the
	// next centimetre either way, rectangular, 10/√3.
	statedEndU hide.MM = 5.8
)

// backboneU is the standard uncertainty of the backbone's length, mm; 0 without a
// backbone.
func (m *measured) backboneU(area hide.Area) hide.MM {
	l := m.frame.Neck.Distance(m.frame.Tail)
	switch {
	case l == 0:
		return 0
	case m.in.capture.Note.Backbone != nil:
		return hide.LengthWithU(l, statedEndU, statedEndU, area.LengthU())
	}
	return hide.LengthWithU(l, 0, 0, math.Hypot(foundBackboneU, area.LengthU()))
}
