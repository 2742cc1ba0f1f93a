package detect

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/hide"
)

// dim is a dark hide on a dark table, photographed with as much noise as parts the two.
func dim() tableScene {
	s := darkOnLight()
	s.leather, s.table, s.noise = [3]float64{0.02, 0.018, 0.022}, [3]float64{0.026, 0.026, 0.026}, 0.1
	return s
}

// What a pixel does not show, the mean of many does: the area of a disc is πr², and noise is no hole.
func TestDimHideIsFoundByMeans(t *testing.T) {
	for name, lights := range map[string][]hide.Light{"top": {hide.Top}, "with an empty photograph": {hide.Top, hide.Empty}} {
		t.Run(name, func(t *testing.T) {
			o, err := dim().outline(t, lights...)
			require.NoError(t, err)
			require.InEpsilon(t, math.Pi*230*230, float64(o.Polygon.Area()), 4e-3)
			require.Empty(t, o.Holes)
		})
	}
}

// A hole of the table's colour that is wider than the noise is found on it as well.
func TestHoleOfADimHide(t *testing.T) {
	s := dim()
	disc, hole := s.inside, discAt(400, 300, 10)
	s.inside = func(x, y float64) float64 { return math.Min(disc(x, y), -hole(x, y)) }
	o, err := s.outline(t, hide.Top)
	require.NoError(t, err)
	require.Len(t, o.Holes, 1)
	require.InEpsilon(t, math.Pi*100, -float64(o.Polygon.Holes[0].SignedArea()), 0.1)
}

// Means make no hide of a bare table, nor one of two.
func TestDimTableIsRefused(t *testing.T) {
	none, two := dim(), dim()
	none.inside = func(x, y float64) float64 { return -100 }
	a, b := discAt(250, 350, 140), discAt(650, 350, 120)
	two.inside = func(x, y float64) float64 { return math.Max(a(x, y), b(x, y)) }
	for name, s := range map[string]tableScene{"no hide": none, "two hides": two} {
		t.Run(name, func(t *testing.T) {
			_, err := s.find(t, hide.Top)
			require.ErrorIs(t, err, hide.NotMeasurable)
		})
	}
}

// Brightness and colour are at right angles: squares sum to those of red, green and blue, grey has no
// colour, and one channel stays as it is.
func TestByHue(t *testing.T) {
	pixels := []field{newField(2, 1), newField(2, 1), newField(2, 1)}
	for c, v := range [3]float32{0.2, 0.5, 0.1} {
		pixels[c].v[0], pixels[c].v[1] = v, 0.3
	}
	out := byHue(pixels)
	require.InDelta(t, 0.8/math.Sqrt(3), float64(out[0].v[0]), 1e-6)
	require.InDelta(t, 0.1/math.Sqrt2, float64(out[1].v[0]), 1e-6)
	require.InDelta(t, 0.7/math.Sqrt(6), float64(out[2].v[0]), 1e-6)
	require.InDelta(t, 0, float64(out[1].v[1]), 1e-6)
	require.InDelta(t, 0, float64(out[2].v[1]), 1e-6)
	require.Equal(t, pixels[:1], byHue(pixels[:1]))
}

// A dark hide as bright as its table, and of another colour, is found by its colour.
func TestDimHideIsFoundByColour(t *testing.T) {
	s := dim()
	s.leather, s.table, s.noise = [3]float64{0.0243, 0.0265, 0.0243}, [3]float64{0.025, 0.025, 0.025}, 0.05
	o, err := s.outline(t, hide.Top)
	require.NoError(t, err)
	require.InEpsilon(t, math.Pi*230*230, float64(o.Polygon.Area()), 6e-3)
}

// Of two outlines the larger is borne out, unless much of it shows no edge.
func TestBorneOut(t *testing.T) {
	f, err := darkOnLight().find(t, hide.Top)
	require.NoError(t, err)
	at := func(radius float64) float64 {
		f.Outline = ringOf(radius)
		return f.borneOut(DefaultOutlineParams())
	}
	require.InDelta(t, 230*math.Sqrt(math.Pi), at(230), 2)
	require.InDelta(t, leastBorne*150*math.Sqrt(math.Pi), at(150), 2)
	require.Greater(t, at(230), at(250))
}

// Where means cannot be asked, for want of bare table, what pixels show stays, or the reason why they show none.
func TestMeansThatCannotBeAsked(t *testing.T) {
	f, err := darkOnLight().find(t, hide.Top)
	require.NoError(t, err)
	for i := range f.tags {
		f.tags[i] = true
	}
	was, plain := f.Outline, view{logs: f.logs, floor: spreadFloor}
	require.NoError(t, f.partSoftly(plain, nil, false, DefaultOutlineParams()))
	require.Equal(t, was, f.Outline)
	require.False(t, f.softly)
	why := hide.Faultf(hide.NotMeasurable, "no hide")
	require.Equal(t, why, f.partSoftly(plain, why, true, DefaultOutlineParams()))
}
