package stats

import (
	"cmp"
	"math"
	"slices"

	"hidechart/hide"
)

// Group is a supplier as a comparison sees it: its lots are the units, since
// the hides of one lot had one flayer, one season and one drum.
type Group struct {
	Name string
	Lots Counts
}

// leastLots is the number of lots of a group below which nothing is said: one
// lot cannot tell how lots differ.
const leastLots = 2

// Pairs compares every pair of groups, or one group with every other when only is not
// empty. The log ratio of the rates has the
// variance of both logs; each is the greater of Poisson's and what the lots' own
// spread gives (ratio estimator: Cochran 1977, "Sampling Techniques", eq. 6.13), with the
// degrees of freedom of Welch and Satterthwaite. In alphabetical order, only first;
// groups of one lot are named with the reason. Correct has to follow.
func Pairs(groups []Group, only string) []hide.Comparison {
	groups = slices.Clone(groups)
	slices.SortFunc(groups, func(a, b Group) int { return cmp.Compare(a.Name, b.Name) })
	var out []hide.Comparison
	for i, a := range groups {
		for _, b := range groups[i+1:] {
			switch only {
			case "", a.Name:
				out = append(out, pair(a, b))
			case b.Name:
				out = append(out, pair(b, a))
			}
		}
	}
	return out
}

// Correct corrects the p of comparisons that are looked at together by Holm (1979,
// "A simple sequentially rejective multiple test procedure", Scand. J. Statist. 6:65).
func Correct(family []*hide.Comparison) {
	var made []*hide.Comparison
	var ps []float64
	for _, c := range family {
		c.P, c.Holm, c.Differ = max(c.P, 0), 1, false
		if c.Reason == "" {
			made, ps = append(made, c), append(ps, c.P)
		} else {
			c.P = 1
		}
	}
	for i, p := range Holm(ps) {
		made[i].Holm, made[i].Differ = p, p < 1-Level
	}
}

func pair(a, b Group) hide.Comparison {
	c := hide.Comparison{A: a.Name, B: b.Name, Ratio: hide.Estimate{N: a.Lots.Units + b.Lots.Units}}
	if a.Lots.Units < leastLots || b.Lots.Units < leastLots {
		c.Reason = "fewer than two lots: one lot cannot tell how lots differ"
		return c
	}
	if a.Lots.N == 0 || b.Lots.N == 0 {
		c.Reason = "none found on one side: the rates and their intervals say all there is"
		return c
	}
	va, vb := logVariance(a.Lots), logVariance(b.Lots)
	diff := math.Log(a.Lots.N/a.Lots.A) - math.Log(b.Lots.N/b.Lots.A)
	df := (va + vb) * (va + vb) / (va*va/float64(a.Lots.Units-1) + vb*vb/float64(b.Lots.Units-1))
	half := tQuantile(df) * math.Sqrt(va+vb)
	c.Ratio.Value, c.Ratio.Low, c.Ratio.High, c.Ratio.Known = math.Exp(diff), math.Exp(diff-half), math.Exp(diff+half), true
	c.P = tTwoSided(diff/math.Sqrt(va+vb), df)
	return c
}

// logVariance is the variance of the log of a rate over units.
func logVariance(c Counts) float64 {
	r, k := c.N/c.A, float64(c.Units)
	spread := squares(c, r) * k / (k - 1) / (c.A * c.A)
	return max(spread, r/c.A) / (r * r)
}

// Holm corrects p-values for their number, in their order.
func Holm(ps []float64) []float64 {
	order := make([]int, len(ps))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		switch {
		case ps[a] < ps[b]:
			return -1
		case ps[a] > ps[b]:
			return 1
		}
		return 0
	})
	out := make([]float64, len(ps))
	worst := 0.0
	for rank, i := range order {
		worst = max(worst, min(1, ps[i]*float64(len(ps)-rank)))
		out[i] = worst
	}
	return out
}
