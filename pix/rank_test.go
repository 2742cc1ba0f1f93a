package pix_test

import (
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/pix"
)

// What a sort puts there, by Go's own; values that tie and orders that are sorted already among them.
func TestSelectRank(t *testing.T) {
	rnd := rand.New(rand.NewPCG(1, 2))
	for _, n := range []int{1, 2, 16, 17, 18, 100, 1001} {
		for _, kinds := range []int{1, 3, n, 10 * n} {
			v := make([]float64, n)
			for i := range v {
				v[i] = float64(rnd.IntN(kinds))
			}
			sorted := slices.Sorted(slices.Values(v))
			for _, from := range [][]float64{v, sorted} {
				k := rnd.IntN(n)
				got := slices.Clone(from)
				pix.SelectRank(got, k)
				require.InDelta(t, sorted[k], got[k], 0)
				for i, x := range got {
					require.True(t, i <= k && x <= got[k] || i >= k && x >= got[k])
				}
				slices.Sort(got)
				require.Equal(t, sorted, got, "none is lost")
			}
		}
	}
}
