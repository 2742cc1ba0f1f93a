package detect

import (
	"slices"

	"hidechart/hide"
)

// boostBins is a training table cut into bins, feature by feature.
type boostBins struct {
	rows int
	// cuts are each feature's borders, rising: bin b holds cuts[b-1] ≤ x < cuts[b].
	cuts [][]float32
	// bin is each feature's bin per row; missing rows hold len(cuts)+1.
	bin [][]uint8
	// missing says whether a feature has missing rows.
	missing []bool
}

// binned cuts every feature of x into at most bins ranges of like row counts.
// Invalid if a value does not fit a finite float32.
func binned(x [][]float64, features, bins int) (*boostBins, error) {
	b := &boostBins{
		rows: len(x), cuts: make([][]float32, features),
		bin: make([][]uint8, features), missing: make([]bool, features),
	}
	column := make([]float32, len(x))
	for f := range features {
		for i, row := range x {
			column[i] = float32(row[f])
			if v := float64(column[i]); v == v && !finite(v) {
				return nil, hide.Faultf(hide.Invalid, "boosted trees: row %d, feature %d: %g is out of range", i, f, row[f])
			}
		}
		b.cuts[f] = quantileCuts(column, bins)
		b.bin[f] = make([]uint8, len(x))
		for i, v := range column {
			b.bin[f][i] = binOf(v, b.cuts[f])
			b.missing[f] = b.missing[f] || v != v
		}
	}
	return b, nil
}

// count is how many bins feature f has, the missing one included.
func (b *boostBins) count(f int) int { return len(b.cuts[f]) + 2 }

// binOf is the bin of v; the last one if v is missing.
func binOf(v float32, cuts []float32) uint8 {
	if v != v {
		return uint8(len(cuts) + 1)
	}
	at, hit := slices.BinarySearch(cuts, v)
	if hit { // a value at a cut lies right of it
		at++
	}
	return uint8(at)
}

// quantileCuts are the borders between at most bins ranges of v: every middle
// between neighbours if few values differ, else quantiles.
func quantileCuts(v []float32, bins int) []float32 {
	s := slices.DeleteFunc(slices.Clone(v), func(x float32) bool { return x != x })
	slices.Sort(s)
	distinct := slices.Compact(slices.Clone(s))
	var cuts []float32
	if len(distinct) <= bins {
		for i := 1; i < len(distinct); i++ {
			cuts = append(cuts, between(distinct[i-1], distinct[i]))
		}
		return cuts
	}
	for b := 1; b < bins; b++ {
		i := b * len(s) / bins
		at, _ := slices.BinarySearch(distinct, s[i])
		if at == 0 {
			continue
		}
		c := between(distinct[at-1], distinct[at])
		if len(cuts) == 0 || c > cuts[len(cuts)-1] {
			cuts = append(cuts, c)
		}
	}
	return cuts
}

// between is a float32 c with a < c ≤ b: the middle where there is one.
func between(a, b float32) float32 {
	c := float32((float64(a) + float64(b)) / 2)
	if c <= a {
		return b
	}
	return c
}
