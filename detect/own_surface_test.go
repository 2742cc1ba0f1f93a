package detect

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/hide"
)

// A soft stain of 12 mm and 8 % stands out of a hide under its light and not
// under another; a shape elsewhere does not, and off the leather nothing is told.
func TestHideScores(t *testing.T) {
	stain := func(x, y float64) float64 {
		d := math.Hypot(x-130, y-160) / 12
		return -.08 * math.Exp(-d*d/2)
	}
	in := leatherScene{.02, map[hide.Light]func(x, y float64) float64{hide.Top: stain, hide.RakeE: plain}}.input(t)
	on := hide.Shape{{Outer: hide.Ring{at(122, 152), at(138, 152), at(138, 168), at(122, 168)}}}
	off := hide.Shape{{Outer: hide.Ring{at(300, 60), at(316, 60), at(316, 76), at(300, 76)}}}
	own := DefaultOwnParams()
	m, g, err := HideScores(t.Context(), in.Photos, in.Outline, hide.Top, DefaultParams(), own)
	require.NoError(t, err)
	highest, mean, _ := m.over(on, g)
	require.GreaterOrEqual(t, highest, mean)
	_, beside, _ := m.over(off, g)
	require.Greater(t, mean, 3.0)
	require.Less(t, beside, 2.0)
	none, _, _ := m.over(hide.Shape{{Outer: hide.Ring{at(1, 1), at(2, 1), at(2, 2)}}}, g) // smaller than a pixel, off the leather
	require.InDelta(t, ownLowest, none, 1e-6)
	m, g, err = HideScores(t.Context(), in.Photos, in.Outline, hide.RakeE, DefaultParams(), own)
	require.NoError(t, err)
	_, mean, _ = m.over(on, g)
	require.Less(t, mean, 2.0)
	_, _, err = HideScores(t.Context(), in.Photos, in.Outline, hide.Back, DefaultParams(), own)
	require.Equal(t, hide.NotFound, hide.KindOf(err))
}

// Otsu by hand: of 0, 0, 1, 9, 10 the cut lies between 1 and 9; between it and
// the total variance: means 1/3 and 9.5, 3 and 2 of 5, 0.24 × (9.5 − 1/3)² = 20.167; variance
// 182/5 − 4² = 20.4.
func TestOtsu(t *testing.T) {
	at, share := otsu([]float64{10, 0, 1, 9, 0})
	require.InDelta(t, 5, at, 1e-12)
	require.InDelta(t, 20.1667/20.4, share, 1e-5)
	_, share = otsu([]float64{3, 3, 3})
	require.Zero(t, share)
}

// A flaw's outline follows it: a square of 24 mm on grain, read back within
// half a millimetre on average (area within 4 sides × 0.5 mm).
func TestFlawFollowsItsEdge(t *testing.T) {
	const w, h, mm = 512, 400, .25
	im := leatherLike(w, h, false)
	defer im.Close()
	b := im.Bytes()
	for i := range w * h {
		if x, y := i%w, i/w; x >= 200 && x < 296 && y >= 150 && y < 246 {
			b[3*i] = uint8(float64(b[3*i]) * .7)
		}
	}
	flaws, err := scoreOf(t, im, nil).Flaws(w, h, mm, DefaultFlawParams())
	require.NoError(t, err)
	require.NotEmpty(t, flaws)
	f := flaws[0]
	require.InDelta(t, 24*24, float64(f.Shape.Area()), 4*24*.5)
	require.Greater(t, f.Probability(), .5)
	c := f.Shape[0].Outer
	var left, top hide.MM = 1e9, 0
	for _, p := range c {
		left, top = min(left, p.X), max(top, p.Y)
	}
	require.InDelta(t, 200*mm, float64(left), 1)
	require.InDelta(t, (h-150)*mm, float64(top), 1)
	require.Greater(t, f.Colour, .5)
}
