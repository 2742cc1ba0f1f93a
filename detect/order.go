package detect

import (
	"cmp"
	"slices"
)

// byEvidence returns the candidates' indices, strongest first; equals keep
// their order.
func byEvidence(c []candidate) []int {
	order := make([]int, len(c))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(c[b].evidence, c[a].evidence) })
	return order
}

// strongestSpots keeps at most spotLimit per square metre, in raster order.
func strongestSpots(spots []spot, squareMetres float64) []spot {
	limit := int(spotLimit * squareMetres)
	if len(spots) <= limit {
		return spots
	}
	score := make([]float64, len(spots))
	for i, q := range spots {
		score[i] = -q.score
	}
	cut := -quantile(score, float64(limit)/float64(len(spots)))
	return slices.DeleteFunc(slices.Clone(spots), func(q spot) bool { return q.score < cut })
}
