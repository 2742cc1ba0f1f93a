package detect

import (
	"math"
	"slices"

	"hidechart/hide"
)

// A line is a fold if it runs beside folds, foldAlong of its length within handBreadth of one and turned from
// it by less than foldTurn, and is foldShare of the longest of them or longer. Nothing but a neck lays long lines side
// by side, and the outermost, with folds on one side only, looks like a scar. (What lies near and parallel belongs together:
// Lowe 1985, "Perceptual Organization and Visual Recognition", Kluwer.)
const (
	foldAlong = 0.7
	foldTurn  = 0.4
	foldShare = 0.6
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
