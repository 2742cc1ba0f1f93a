package detect

import (
	"math"
	"slices"

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

// inCompany calls long lines beside folds folds, and gives a line that was called a stroke of a brand its next likely kind
// where it makes
// no figure: where no other stroke of its tone lies near, or all of them together are thin lines that
// cross. A brand is a figure of several broad strokes, and that shows in none of them alone.
func inCompany(found []sorted) error {
	foldsBeside(found)
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

// A line is a fold if it runs beside folds, foldAlong of its length within handBreadth of one and turned from
// it by less than foldTurn, and is foldShare of the longest of them or longer. Nothing but a neck lays long lines side
// by side, and the outermost, with folds on one side only, looks like a scar.
const (
	foldAlong   = 0.7
	foldTurn    = 0.4
	foldShare   = 0.6
	foldCompare = 4 // steps of nearStep along which a line's direction is taken
)

// foldsBeside calls the sure lines that run beside sure folds folds, and again beside those.
func foldsBeside(found []sorted) {
	isFold := func(s sorted) bool { return s.Kind == hide.Wrinkle && s.Probability >= surePart }
	for again := true; again; {
		again = false
		var folds []heading
		var longest hide.MM
		for _, s := range found {
			if c := s.from.found; isFold(s) && c.form == lineForm {
				folds, longest = append(folds, headings(c.line)...), max(longest, c.length)
			}
		}
		for i := range found {
			s := &found[i]
			if folds != nil && s.Probability >= surePart && s.Kind != hide.Wrinkle && s.from.found.form == lineForm &&
				s.from.found.length >= foldShare*longest && runsBeside(headings(s.from.found.line), folds) {
				s.Kind, again = hide.Wrinkle, true
			}
		}
	}
}

// heading is a place on a line and which way the line runs there.
type heading struct {
	at    hide.Point
	angle float64
}

func headings(line []hide.Point) []heading {
	all := spaced(line)
	out := make([]heading, len(all))
	for i, q := range all {
		a, b := all[max(0, i-foldCompare)], all[min(len(all)-1, i+foldCompare)]
		out[i] = heading{q, math.Atan2(float64(b.Y-a.Y), float64(b.X-a.X))}
	}
	return out
}

// runsBeside is whether enough of a line has a place of folds near and along it.
func runsBeside(line, folds []heading) bool {
	n := 0
	for _, p := range line {
		if slices.ContainsFunc(folds, func(f heading) bool {
			return f.at.Distance(p.at) <= handBreadth && math.Abs(math.Sin(f.angle-p.angle)) < foldTurn
		}) {
			n++
		}
	}
	return float64(n) >= foldAlong*float64(len(line))
}
