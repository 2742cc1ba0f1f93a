package detect

import (
	"fmt"
	"math"
	"strconv"

	"hidechart/hide"
)

// evidenceDigits is what a feature is rounded to before anything follows from
// it, so that a chart holds exactly what its probabilities follow from.
const evidenceDigits = 5

// evidenceOf names the features that apply.
func evidenceOf(x []float64) map[string]float64 {
	out := map[string]float64{}
	for k, name := range featureWords() {
		if !math.IsNaN(x[k]) && !math.IsInf(x[k], 0) {
			out[name] = significant(x[k])
		}
	}
	return out
}

func significant(v float64) float64 {
	r, err := strconv.ParseFloat(strconv.FormatFloat(v, 'g', evidenceDigits, 64), 64)
	if err != nil {
		return v
	}
	return r
}

// featuresOf is its inverse: NaN where there is no evidence.
func featuresOf(evidence map[string]float64) []float64 {
	x := newFeatures()
	for k, name := range featureWords() {
		if v, ok := evidence[name]; ok {
			x[k] = v
		}
	}
	return x
}

// explained is how many reasons are told: the rest weigh little.
const explained = 6

// Explain says in lines of plain words why a candidate has its kind and its
// probability: for each the features that weigh most, with their values and their
// part of the log-odds. Error: Invalid when the chart holds no evidence of it, as
// of a hole, which is the outline's, and of what a reviewer drew.
func Explain(d hide.Defect) ([]string, error) {
	if len(d.Evidence) == 0 {
		return nil, hide.Faultf(hide.Invalid, "defect %d (%s) was not sorted by features: holes come from the outline, added ones from a person", d.ID, d.Kind)
	}
	model, err := sortingModel()
	if err != nil {
		return nil, err
	}
	m, x := model.asked(featuresOf(d.Evidence))
	out := []string{fmt.Sprintf("defect %d: %s, a flaw with probability %.3f", d.ID, d.Kind.Words(), d.Probability)}
	none, err := m.explain(x, harmless)
	if err != nil {
		return nil, err
	}
	for k := range none {
		none[k].Weight = -none[k].Weight // what speaks against harmless speaks for a flaw
	}
	out = append(out, "is it a flaw at all:")
	out = append(out, reasons(none)...)
	why, err := m.explain(x, string(d.Kind))
	if err != nil {
		return nil, err
	}
	out = append(out, "why "+d.Kind.Words()+":")
	out = append(out, reasons(why)...)
	if by, ok := model.likeliest(d.Evidence); ok && by != d.Kind {
		out = append(out, byCompany(d.Kind, by))
	}
	return out, nil
}

// likeliest is the kind of a candidate by its own evidence; false where that does not say how it was found.
func (s sorter) likeliest(evidence map[string]float64) (hide.Kind, bool) {
	x := featuresOf(evidence)
	f := x[fForm]
	if !(f >= 0 && f < float64(formCount)) {
		return "", false
	}
	c := Candidate{Features: x, found: candidate{form: form(f)}}
	return c.sorted(evidence, s.Alone.Classes, s.probabilities([][]float64{x})[0]).Kind, true
}

// byCompany says why a candidate has another kind than its evidence makes likeliest.
func byCompany(k, by hide.Kind) string {
	why := "it was given another one"
	switch {
	case k == hide.Vein:
		why = "lines that meet it part at two places or more, as a vein's do"
	case k == hide.Wrinkle:
		why = "it runs beside folds, as only a neck's do"
	case by == hide.Brand:
		why = "it makes no figure with strokes beside, as a brand's do"
	}
	return fmt.Sprintf("by itself it is likelier %s: %s", by.Words(), why)
}

func reasons(all []contribution) []string {
	var out []string
	for _, c := range all[:min(explained, len(all))] {
		out = append(out, "  "+c.String())
	}
	return out
}
