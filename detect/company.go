package detect

import "hidechart/hide"

// sorted is a candidate with its likeliest kind and the likeliest other one that it can be
// by itself.
type sorted struct {
	hide.Defect
	next hide.Kind
	from Candidate
}

// inCompany corrects kinds by what the sure candidates beside tell, which shows in none of them alone: folds lie side
// by side, a brand is a figure of strokes, a vein branches.
func inCompany(found []sorted) error {
	foldsBeside(found)
	if err := withoutLoneStrokes(found); err != nil {
		return err
	}
	veinsBranch(found)
	return nil
}
