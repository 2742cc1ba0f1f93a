package detect

import (
	"context"
	"math"
	"math/rand/v2"
	"runtime"
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/hide"
	"hidechart/pix"
	"hidechart/scene"
)

// leatherLike is a picture of noise of two scales under light that falls off,
// with a patch of another colour, one of another grain, and a thin line.
func leatherLike(w, h int, flaws bool) *pix.Image {
	r := rand.New(rand.NewPCG(1, 2))
	im := pix.New(w, h, pix.U8, 3)
	b := im.Bytes()
	for i := range w * h {
		x, y := i%w, i/w
		grain := 9.0
		if flaws && near(x, y, w/4, h/4, 14) {
			grain = 2
		}
		v := 110 + 40*float64(x)/float64(w) + grain*r.NormFloat64()
		c := [3]float64{.6 * v, .8 * v, v}
		if flaws && near(x, y, 3*w/4, h/4, 12) {
			c[1] *= .88
		}
		if flaws && y == 3*h/4 && x > w/4 && x < 3*w/4 {
			c = [3]float64{.5 * c[0], .5 * c[1], .5 * c[2]}
		}
		for k := range c {
			b[3*i+k] = uint8(math.Min(math.Max(c[k], 0), 255))
		}
	}
	return im
}

func near(x, y, cx, cy, r int) bool { return (x-cx)*(x-cx)+(y-cy)*(y-cy) <= r*r }

func scoreOf(t *testing.T, im *pix.Image, in []bool) OwnMap {
	t.Helper()
	m, err := ScoreMap(context.Background(), im, in, DefaultOwnParams())
	require.NoError(t, err)
	return m
}

// at is the score at a pixel of the picture.
func (m OwnMap) at(x, y, w, h int) float32 { return m.Score[y*m.Height/h*m.Width+x*m.Width/w] }

func TestScoreMapFindsColourGrainAndLine(t *testing.T) {
	const w, h = 320, 256
	im := leatherLike(w, h, true)
	defer im.Close()
	m := scoreOf(t, im, nil)
	plain := leatherLike(w, h, false)
	defer plain.Close()
	limit := float32(quantile(sampled(scoreOf(t, plain, nil).Score, nil), .99))
	require.Greater(t, m.at(w/4, h/4, w, h), limit, "other grain")
	require.Greater(t, m.at(3*w/4, h/4, w, h), limit, "other colour")
	require.Greater(t, m.at(w/2, 3*h/4, w, h), limit, "line")
	c := m.Colour[h/4*m.Height/h*m.Width+3*w/4*m.Width/w]
	require.Greater(t, c, limit/2, "the colour's share says what it is")
}

// By construction: the median is 0 and the lower quartile −1.
func TestScoreMapScale(t *testing.T) {
	im := leatherLike(200, 300, false)
	defer im.Close()
	v := sampled(scoreOf(t, im, nil).Score, nil)
	require.InDelta(t, 0, quantile(v, .5), 1e-6)
	require.InDelta(t, -1, quantile(v, .25), 1e-5)
}

// A slope of light is no flaw, at the border neither.
func TestScoreMapBorderIsNotOdd(t *testing.T) {
	const w, h = 300, 300
	im := leatherLike(w, h, false)
	defer im.Close()
	m := scoreOf(t, im, nil)
	var border, inner []float64
	for i, v := range m.Score {
		x, y := i%m.Width, i/m.Width
		if min(x, y, m.Width-1-x, m.Height-1-y) < 4 {
			border = append(border, float64(v))
		} else {
			inner = append(inner, float64(v))
		}
	}
	require.InDelta(t, quantile(inner, .5), quantile(border, .5), .6) // of units of the lower quartile
}

func TestScoreMapLeavesOutWhatIsNoLeather(t *testing.T) {
	const w, h = 300, 300
	im := leatherLike(w, h, true)
	defer im.Close()
	in := make([]bool, w*h)
	b := im.Bytes()
	for i := range in {
		in[i] = i%w < 260 && near(i%w, i/w, 130, 150, 160)
		if !in[i] {
			b[3*i], b[3*i+1], b[3*i+2] = 5, 250, 5 // a table as unlike as can be
		}
	}
	m := scoreOf(t, im, in)
	limit := float32(quantile(sampled(m.Score, maskTo(in, w, h, [2]int{m.Width, m.Height})), .85))
	require.InDelta(t, ownLowest, m.at(298, 5, w, h), 1e-6)
	require.Greater(t, m.at(w/4, h/4, w, h), limit)
	require.Less(t, m.at(250, 150, w, h), limit, "beside the table")
}

func TestScoreMapSameAtAnyGOMAXPROCS(t *testing.T) {
	im := leatherLike(260, 200, true)
	defer im.Close()
	a := scoreOf(t, im, nil)
	old := runtime.GOMAXPROCS(1)
	defer runtime.GOMAXPROCS(old)
	require.Equal(t, a, scoreOf(t, im, nil))
}

func TestScoreMapFaults(t *testing.T) {
	im := pix.New(100, 100, pix.U8, 3)
	defer im.Close()
	tiny := pix.New(8, 100, pix.U8, 1)
	defer tiny.Close()
	ctx, p := context.Background(), DefaultOwnParams()
	_, err := ScoreMap(ctx, tiny, nil, p)
	require.Equal(t, hide.Invalid, hide.KindOf(err))
	_, err = ScoreMap(ctx, im, make([]bool, 7), p)
	require.Equal(t, hide.Invalid, hide.KindOf(err))
	_, err = ScoreMap(ctx, im, make([]bool, 10000), p)
	require.Equal(t, hide.NotMeasurable, hide.KindOf(err))
	_, err = ScoreMap(ctx, im, nil, OwnParams{})
	require.Equal(t, hide.Invalid, hide.KindOf(err))
	m, err := ScoreMap(ctx, im, nil, p) // plain black: nothing to tell, no infinity
	require.NoError(t, err)
	for _, v := range m.Score {
		require.False(t, math.IsNaN(float64(v)) || math.IsInf(float64(v), 0))
	}
}

// Zones: half of the picture has another grain; with zones neither half is odd.
func TestScoreMapBlendsZones(t *testing.T) {
	const w, h = 400, 200
	r := rand.New(rand.NewPCG(4, 5))
	im := pix.New(w, h, pix.U8, 1)
	defer im.Close()
	for i := range im.Bytes() {
		k := 4.0
		if i%w >= 280 {
			k = 12
		}
		im.Bytes()[i] = uint8(120 + k*r.NormFloat64())
	}
	share := func(p OwnParams) float64 {
		m, err := ScoreMap(context.Background(), im, nil, p)
		require.NoError(t, err)
		limit, coarse, n := quantile(sampled(m.Score, nil), .7), 0, 0
		for i, v := range m.Score {
			if i%m.Width >= m.Width*8/10 {
				n++
				if float64(v) > limit {
					coarse++
				}
			}
		}
		return float64(coarse) / float64(n)
	}
	p := DefaultOwnParams()
	one := share(p)
	p.Zones = 4
	require.Greater(t, one, .9)
	require.Less(t, share(p), .6)
}

// Swatches of articles and flaws that no constant was chosen by.
func TestScoreMapOnRenderedSwatches(t *testing.T) {
	var above, pairs float64
	for seed := int64(9001); seed <= 9004; seed++ {
		s, err := scene.RenderSwatch(context.Background(), scene.SwatchSpec{Seed: seed, SidePX: 400, MMPerPX: .2, Flaws: 2, Contrast: 1.5})
		require.NoError(t, err)
		im := pix.New(400, 400, pix.U8, 3)
		for i := range 400 * 400 {
			for c := range 3 {
				im.Bytes()[3*i+c] = s.Picture.Pix[4*i+2-c]
			}
		}
		m := scoreOf(t, im, nil)
		im.Close()
		var flaw, sound []float64
		for i, v := range s.Mask.Pix {
			if q := float64(m.at(i%400, i/400, 400, 400)); v > 0 {
				flaw = append(flaw, q)
			} else {
				sound = append(sound, q)
			}
		}
		limit := quantile(sound, .95)
		for _, q := range flaw {
			pairs++
			if q > limit {
				above++
			}
		}
	}
	require.Greater(t, above/pairs, .8) // of flaw pixels above 95 % of the sound ones
}

// The same picture at 16 bits scores the same, but for the rounding of a mean.
func TestScoreMapOfSixteenBits(t *testing.T) {
	im := leatherLike(200, 200, true)
	defer im.Close()
	deep := pix.New(200, 200, pix.U16, 3)
	defer deep.Close()
	for i, v := range im.Bytes() {
		deep.Uint16s()[i] = 257 * uint16(v) // full scale to full scale
	}
	a, b := scoreOf(t, im, nil), scoreOf(t, deep, nil)
	for i := range a.Score {
		require.InDelta(t, a.Score[i], b.Score[i], .01)
	}
}
