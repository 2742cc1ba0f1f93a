package detect

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Grain that lies between the warts of a crop makes no part of it, whose spots differ by less; it would make them look
// like grain.
func TestClustersAreOfLikeStrength(t *testing.T) {
	p := DefaultParams()
	var spots []spot // in raster order
	for k := range 10 {
		spots = append(spots, spot{at: at(float64(30*k), 100-float64(k)), radius: 2, score: 7})
	}
	for k, score := range []float64{40, 90, 35} {
		spots = append(spots, spot{at: at(100+float64(12*k), 80), radius: 3, score: score})
	}
	got := clusters(spots, p)
	require.Len(t, got, 2)
	assert.Len(t, got[0], 10)
	assert.Len(t, got[1], 3)
}
