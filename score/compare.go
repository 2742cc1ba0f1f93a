package score

import (
	"hidechart/hide"
)

// Compare judges a chart by the truth of its capture. Rejected candidates are
// left out; confirmed and added ones count with probability 1, so a reviewed
// chart can be judged the same way. Errors: Invalid when an outline cannot be
// repaired into a polygon.
func Compare(chart hide.Chart, truth Truth) (Result, error) {
	r := Result{Article: truth.Article, Area: truth.Area}
	if err := r.outline(chart, truth); err != nil {
		return r, hide.Wrapf(hide.Invalid, err, "score: outline")
	}
	r.backbone(chart, truth)
	m := match(candidates(chart), truth)
	r.defects(m)
	r.holes(chart, m)
	r.Bins, r.CalibrationErr = calibration(r.Candidates)
	r.ByKind = byKind(r)
	return r, nil
}

// candidates are the defects of the chart that count, with the probability
// they count with.
func candidates(chart hide.Chart) []hide.Defect {
	var out []hide.Defect
	for _, d := range chart.Defects {
		switch d.Status {
		case hide.Rejected:
			continue
		case hide.Confirmed, hide.Added:
			d.Probability = 1
		}
		out = append(out, d)
	}
	return out
}

func (r *Result) backbone(chart hide.Chart, truth Truth) {
	if truth.Backbone == nil {
		return
	}
	neck := chart.Backbone[0].Distance(truth.Backbone[0])
	tail := chart.Backbone[1].Distance(truth.Backbone[1])
	r.NeckError, r.TailError = &neck, &tail
}

func (r *Result) defects(m matching) {
	right := 0
	for i := range m.truth.Defects {
		o := m.outcome(i)
		r.Truths = append(r.Truths, o)
		r.TruthDefects += count(!o.Hidden)
		r.Found += count(o.Found)
		right += count(o.Found && o.As == o.Kind)
	}
	r.Candidates = m.found
	for _, c := range m.found {
		r.FalseCandidates += count(c.False)
	}
	r.Recall = ratio(r.Found, r.TruthDefects)
	r.KindAccuracy = ratio(right, r.Found)
	r.BorderOff = medianOff(r.Truths)
	r.FalseArea = m.wrong
	r.FalseAreaShare = float64(m.wrong / r.Area)
	r.FalsePerM2 = float64(r.FalseCandidates) / squareMetres(r.Area)
}

// count is 1 for true.
func count(b bool) int {
	if b {
		return 1
	}
	return 0
}

// squareMetres converts mm² to m².
func squareMetres(a hide.MM2) float64 { return float64(a) / 1e6 }

func byKind(r Result) []KindResult {
	var out []KindResult
	for _, k := range hide.Kinds() {
		row := KindResult{Kind: k}
		for _, o := range r.Truths {
			if o.Kind != k || o.Hidden {
				continue
			}
			row.TruthDefects++
			row.Found += count(o.Found)
			row.KindRight += count(o.Found && o.As == k)
		}
		named := 0
		for _, c := range r.Candidates {
			if c.Kind != k {
				continue
			}
			named++
			row.FalseCandidates += count(c.False)
		}
		if row.TruthDefects == 0 && named == 0 {
			continue
		}
		row.Recall = ratio(row.Found, row.TruthDefects)
		out = append(out, row)
	}
	return out
}
