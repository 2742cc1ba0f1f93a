package detect

import (
	"image"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/pix"
)

// plainShare is that of plain leather with so much noise, cut off at the levels of leather and table.
func plainShare(noise float64) (*Found, share, pix.Grid) {
	g := pix.TableGrid(100, 100, 1)
	f := &Found{grid: g, leather: make([]bool, g.Width*g.Height), near: make([]uint8, g.Width*g.Height)}
	s, rng := share{field: newField(g.Width, g.Height)}, rand.New(rand.NewPCG(3, 5))
	for i := range s.v {
		f.leather[i], f.near[i] = true, insideBand
		s.v[i] = float32(min(max(1+noise*rng.NormFloat64(), -1), 1))
	}
	return f, s, g
}

// Half-way to the table is noise where plain leather passes it; 3.5 spreads off it is not.
func TestHolesStandOutOfNoise(t *testing.T) {
	box := image.Rect(44, 44, 52, 52)
	for noise, stands := range map[float64]bool{0: true, 0.05: true, 0.15: true, 0.4: false, 1: false, 3: false} {
		f, s, g := plainShare(noise)
		require.Equal(t, stands, f.standsOut(box, &s, g), "noise %g", noise)
	}
}

// Smoothing ends as soon as leather is quiet, and leaves what is quiet alone.
func TestQuieted(t *testing.T) {
	for noise, left := range map[float64]float64{0.1: 0.1, 0.5: 0.2, 1: 0.2} {
		f, s, g := plainShare(noise)
		was := s.v[1234]
		quiet, err := s.quieted(f, g)
		require.NoError(t, err)
		require.LessOrEqual(t, quiet.noise(f, g), left)
		require.Equal(t, noise == 0.1, quiet.v[1234] == was)
	}
}
