package pix_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/pix"
)

// Against Go's math.Exp over the logarithms of 16-bit light and of their ratios.
func TestExpAgreesWithMath(t *testing.T) {
	var in []float32
	for x := float32(-8); x < 12; x += 0.0037 {
		in = append(in, x)
	}
	out, err := pix.Exp(in)
	require.NoError(t, err)
	require.Len(t, out, len(in))
	for i, x := range in {
		require.InEpsilon(t, math.Exp(float64(x)), out[i], 1e-6, "at %v", x)
	}
	none, err := pix.Exp(nil)
	require.NoError(t, err)
	require.Empty(t, none)
}
