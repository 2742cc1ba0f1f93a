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

// strokeFill is the least share of its hull that the strokes of a brand fill when few of them
// are found; scars that cross fill less.
const strokeFill = 0.12

// inCompany gives a line that was called a stroke of a brand its next likely kind where it makes
// no figure: where no other stroke lies near, or all of them together are thin lines that
// cross. A brand is a figure of several broad strokes, and that shows in none of them alone.
func inCompany(found []sorted) error {
	var strokes []hide.Defect
	for i, s := range found {
		if s.Kind == hide.Brand {
			s.ID = i
			strokes = append(strokes, s.Defect)
		}
	}
	groups, err := groupsWithin(strokes, wholeReach(hide.Brand))
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

// isFigure takes the strokes' places in found from their ids.
func isFigure(strokes []hide.Defect, found []sorted) bool {
	var all hide.Shape
	var area hide.MM2
	for _, d := range strokes {
		if found[d.ID].from.found.form != lineForm {
			return true // the figure's ground was found as an area
		}
		all = append(all, d.Geometry...)
		area += d.Area
	}
	return len(strokes) > 1 && float64(area) >= strokeFill*float64(plane.ConvexHull(all).Area())
}
