package detect

import "math"

// harmlessWeight of a candidate that is no flaw, when probabilities are corrected:
// our renders strew every kind of look-alike on every hide and many flaws are faint,
// so weighed alike a candidate of a capture we did not make is a flaw more often than it
// is told to be. Log loss per flaw of the four shared captures' candidates, as they are, at half
// contrast and by top light alone (docs/adr/0029): lines and spots 0.430 with 0.3, 0.414 with this, 0.408 with 0.4
// and 0.45, 0.431 with 0.6; areas 1.931, 1.927, 1.948, 1.982 and 2.118.
const harmlessWeight = 0.35

func weightOf(isReal bool) float64 {
	if isReal {
		return 1
	}
	return harmlessWeight
}

// correctedAlike lists, for each form, the forms whose probabilities are corrected together with
// it: lines for themselves, spots too, and areas, of which there are few, all as one.
func correctedAlike(f form) []form {
	if f == lineForm || f == spotForm {
		return []form{f}
	}
	return []form{patchForm, looseForm, thinForm}
}

// fitFlaw finds for each form the correction of the probability of being a flaw, from the rows
// that used picks.
func fitFlaw(prob [][]float64, t table, used func(i int) bool) ([]isotonic, error) {
	out := make([]isotonic, formCount)
	for f := range formCount {
		alike := map[form]bool{}
		for _, a := range correctedAlike(f) {
			alike[a] = true
		}
		var score, weight []float64
		var hit []bool
		for i, p := range prob {
			if used(i) && t.weight[i] > 0 && alike[form(t.x[i][fForm])] {
				score, hit, weight = append(score, 1-p[0]), append(hit, t.real[i]), append(weight, weightOf(t.real[i]))
			}
		}
		if len(score) == 0 {
			continue // nothing was found so: it is left as it is
		}
		c, err := fitIsotonic(score, hit, weight)
		if err != nil {
			return nil, err
		}
		for i, v := range c.Value {
			c.Value[i] = min(max(sharper(v), leastSure), mostSure)
		}
		out[f] = c
	}
	return out, nil
}

// sharpness multiplies the corrected log-odds. One curve for all hides is flatter than each hide's
// own, most of all where most flaws are faint: on captures we did not make what is told
// over 0.7 was real nearly always and what is told under 0.5 seldom. Log loss per flaw of the four shared captures'
// candidates as they are 0.572 with 1.3, 0.530 with this, 0.521 with 1.8; at half contrast 0.797, 0.734 and 0.717; by
// top light alone 0.618, 0.598 and 0.601, each with the weight above. Our own renders never learned from lose by it (docs/adr/0029).
const sharpness = 1.6

// sharper moves a probability away from a half.
func sharper(p float64) float64 {
	odds := math.Pow(p/(1-p), sharpness)
	if math.IsInf(odds, 1) {
		return 1
	}
	return odds / (1 + odds)
}

// No candidate is called sure either way: a run of some hundred samples without
// an exception does not rule one out (the rule of three: 3/n).
const leastSure, mostSure = 0.002, 0.99

// correctFolds corrects each fold by what the others taught, so that the report
// is of articles left out there too.
func correctFolds(prob [][]float64, t table, folds int) error {
	fold, err := groupFolds(t.groups, folds)
	if err != nil {
		return err
	}
	corrections := make([][]isotonic, folds)
	for k := range folds {
		if corrections[k], err = fitFlaw(prob, t, func(i int) bool { return fold[i] != k }); err != nil {
			return err
		}
	}
	for i, p := range prob {
		corrections[fold[i]][form(t.x[i][fForm])].correct(p)
	}
	return nil
}
