package detect

import (
	"cmp"
	"maps"
	"slices"

	"hidechart/hide"
)

// groupFolds deals groups into folds so that no group is in two and the folds
// have like numbers of rows. The result is each row's fold. With as many folds
// as groups each group is left out by itself. The deal depends on the names
// and sizes of the groups only, not on the order of rows. Invalid if there are
// fewer than two folds or fewer groups than folds.
func groupFolds(groups []string, folds int) ([]int, error) {
	size := map[string]int{}
	for _, g := range groups {
		size[g]++
	}
	if folds < 2 || len(size) < folds {
		return nil, hide.Faultf(hide.Invalid, "cross-validate: %d folds of %d groups", folds, len(size))
	}
	names := slices.SortedFunc(maps.Keys(size), func(a, b string) int {
		return cmp.Or(cmp.Compare(size[b], size[a]), cmp.Compare(a, b))
	})
	load := make([]int, folds)
	to := map[string]int{}
	for _, name := range names { // largest first into the emptiest fold
		lightest := slices.Index(load, slices.Min(load))
		to[name] = lightest
		load[lightest] += size[name]
	}
	fold := make([]int, len(groups))
	for i, g := range groups {
		fold[i] = to[g]
	}
	return fold, nil
}

// crossValidate gives each row the probabilities of a model that saw no row of
// its group (article), so that what it is judged on is new to it.
//
// groups[i] is the group of row i; the rest is as for trainBoost. Errors are
// those of groupFolds and trainBoost.
func crossValidate(groups []string, folds int, features, classes []string, x [][]float64, y []int, weight []float64, p boostParams) ([][]float64, error) {
	if len(groups) != len(x) {
		return nil, hide.Faultf(hide.Invalid, "cross-validate: %d groups for %d rows", len(groups), len(x))
	}
	weight, err := checkedRows(features, classes, x, y, weight)
	if err != nil {
		return nil, err
	}
	fold, err := groupFolds(groups, folds)
	if err != nil {
		return nil, err
	}
	out := make([][]float64, len(x))
	for k := range folds {
		var tx [][]float64
		var ty []int
		var tw []float64
		for i, f := range fold {
			if f != k {
				tx, ty, tw = append(tx, x[i]), append(ty, y[i]), append(tw, weight[i])
			}
		}
		m, err := trainBoost(features, classes, tx, ty, tw, p)
		if err != nil {
			return nil, hide.Wrapf(hide.Invalid, err, "cross-validate: fold %d", k)
		}
		for i, f := range fold {
			if f == k {
				out[i] = m.probabilities(x[i])
			}
		}
	}
	return out, nil
}
