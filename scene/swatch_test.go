package scene

import (
	"bytes"
	"context"
	"runtime"
	"testing"

	"github.com/stretchr/testify/require"
)

func smallSwatch(t *testing.T, seed int64, flaws int) Swatch {
	t.Helper()
	s, err := RenderSwatch(context.Background(), SwatchSpec{Seed: seed, SidePX: 160, Flaws: flaws})
	require.NoError(t, err)
	return s
}

func TestSwatchSameBytesAtAnyGOMAXPROCS(t *testing.T) {
	a := smallSwatch(t, 5, 2)
	old := runtime.GOMAXPROCS(1)
	defer runtime.GOMAXPROCS(old)
	b := smallSwatch(t, 5, 2)
	require.True(t, bytes.Equal(a.Picture.Pix, b.Picture.Pix))
	require.True(t, bytes.Equal(a.Mask.Pix, b.Mask.Pix))
}

// The mask says where the flaws are: away from it the picture is the same as
// without them, up to what the camera's blur and the exposure carry over.
func TestSwatchMaskHoldsTheFlaws(t *testing.T) {
	for seed := int64(1); seed <= 6; seed++ {
		with, without := smallSwatch(t, seed, 1), smallSwatch(t, seed, -1)
		require.Empty(t, without.Flaws)
		require.Zero(t, bytes.Count(without.Mask.Pix, []byte{255}))
		if len(with.Flaws) == 0 {
			continue
		}
		var inside, outside, n, m float64
		for i, v := range with.Mask.Pix {
			d := float64(with.Picture.Pix[4*i+1]) - float64(without.Picture.Pix[4*i+1])
			if v > 0 {
				inside, n = inside+d*d, n+1
			} else {
				outside, m = outside+d*d, m+1
			}
		}
		require.Positive(t, n, "seed %d: %v", seed, with.Flaws)
		require.Greater(t, inside/n, 2*outside/m, "seed %d: %v", seed, with.Flaws)
	}
}

func TestSwatchSpecFaults(t *testing.T) {
	for _, s := range []SwatchSpec{{SidePX: 3}, {MMPerPX: -1}, {Contrast: -1}, {Article: "no such"}} {
		_, err := RenderSwatch(context.Background(), s)
		require.Error(t, err)
	}
}
