package detect

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"hidechart/hide"
)

// contribution is what one feature did for the margin of a class.
type contribution struct {
	// Feature is the feature's name; boostBaseRate for what holds for every x.
	Feature string
	// Value is the feature's value, NaN where it was missing; 0 for the base.
	Value float64
	// Weight is what it adds to the margin (log-odds against the average
	// class): above 0 speaks for the class, below 0 against it.
	Weight float64
}

// boostBaseRate names the part of a margin that no feature has a share in.
const boostBaseRate = "how common it is"

// String is the contribution in words, such as "width 0.42: for it (+0.81)".
func (c contribution) String() string {
	side := "for it"
	if c.Weight < 0 {
		side = "against it"
	}
	switch {
	case c.Feature == boostBaseRate:
		return fmt.Sprintf("%s: %s (%+.2f)", c.Feature, side, c.Weight)
	case math.IsNaN(c.Value):
		return fmt.Sprintf("%s not measured: %s (%+.2f)", c.Feature, side, c.Weight)
	}
	return fmt.Sprintf("%s %.3g: %s (%+.2f)", c.Feature, c.Value, side, c.Weight)
}

// explain splits the margin of class for x into one contribution per feature
// that was asked for and the base; they sum to margins(x) of that class. The
// largest absolute weight comes first, equal ones in the order of Features.
// NotFound if the model has no such class.
//
// Each step down a tree credits the change of the node's value to the feature
// asked there (Saabas 2014, "Interpreting random forests"). Unlike Shapley
// values it favours features asked low in the tree (Lundberg et al. 2020,
// "From local explanations to global understanding with explainable AI for
// trees"); it is exact in its sum and costs no more than the answer itself.
func (m *boostModel) explain(x []float64, class string) ([]contribution, error) {
	m.mustFit(x)
	k := slices.Index(m.Classes, class)
	if k < 0 {
		return nil, hide.Faultf(hide.NotFound, "explain: no class %q in the model", class)
	}
	weight := make([]float64, len(m.Features)+1)
	asked := make([]bool, len(m.Features))
	for j := range m.Classes { // margins are centred: every class has its share
		share := -1 / float64(len(m.Classes))
		if j == k {
			share++
		}
		m.credit(x, j, share/m.Temperature, weight, asked)
	}
	out := []contribution{{Feature: boostBaseRate, Weight: weight[len(asked)]}}
	for f, ok := range asked {
		if ok {
			out = append(out, contribution{m.Features[f], x[f], weight[f]})
		}
	}
	slices.SortStableFunc(out, func(a, b contribution) int {
		return cmp.Compare(math.Abs(b.Weight), math.Abs(a.Weight))
	})
	return out, nil
}

// credit adds share times the score of class j to the weights; the last weight
// is the base's.
func (m *boostModel) credit(x []float64, j int, share float64, weight []float64, asked []bool) {
	base := len(asked)
	weight[base] += share * m.Base[j]
	for _, round := range m.Rounds {
		t := &round[j]
		weight[base] += share * float64(t.Value[0])
		for i := 0; t.Feature[i] != boostLeaf; {
			to := t.next(i, x)
			weight[t.Feature[i]] += share * (float64(t.Value[to]) - float64(t.Value[i]))
			asked[t.Feature[i]] = true
			i = to
		}
	}
}
