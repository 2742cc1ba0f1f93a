package detect

import (
	"hidechart/hide"
	"hidechart/plane"
)

// sorted is a candidate with its likeliest kind and the likeliest other one that it can be
// by itself.
type sorted struct {
	hide.Defect
	next hide.Kind
	from Candidate
}

// The strokes of a brand are together strokeLengths or more of its length, which two scars that
// cross cannot be and three hardly are, and fill strokeFill of their hull. The ground of a figure
// is groundBreadth of its length or more in breadth: a narrower area is a stroke's own.
const (
	strokeLengths float64 = 2.5
	strokeFill    float64 = 0.12
	groundBreadth float64 = 0.4
)

// inCompany gives a line that was called a stroke of a brand its next likely kind where it makes
// no figure: where no other stroke of its tone lies near, or all of them together are thin lines that
// cross. A brand is a figure of several broad strokes, and that shows in none of them alone.
func inCompany(found []sorted) error {
	var strokes []hide.Defect
	for i, s := range found {
		if s.Kind == hide.Brand {
			s.ID = i
			strokes = append(strokes, s.Defect)
		}
	}
	groups, err := alikeWithin(strokes, always(wholeReach(hide.Brand)))
	if err != nil {
		return err
	}
	for _, g := range groups {
		if isFigure(g, found) {
			continue
		}
		for _, d := range g {
			found[d.ID].Kind = found[d.ID].next
		}
	}
	return nil
}

// isFigure goes by the sure strokes. It takes their places in found from their ids.
func isFigure(strokes []hide.Defect, found []sorted) bool {
	var all hide.Shape
	var area hide.MM2
	var length hide.MM
	for _, d := range strokes {
		if d.Probability < surePart {
			continue
		}
		if found[d.ID].from.found.form != lineForm && float64(d.Width) >= groundBreadth*float64(d.Length) {
			return true // the figure's ground was found as an area
		}
		all = append(all, d.Geometry...)
		area, length = area+d.Area, length+d.Length
	}
	if len(all) == 0 {
		return false
	}
	reach := plane.MinRectangle(all).Length
	return float64(length) >= strokeLengths*float64(reach) && float64(area) >= strokeFill*float64(plane.ConvexHull(all).Area())
}
