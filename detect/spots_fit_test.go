package detect

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hidechart/hide"
	"hidechart/pix"
)

// markTone is the tone of a mark of radius r about a place: a dark disc, or the slope towards x of a dome
// (1 − d²/r²)².
func markTone(l hide.Light, mid hide.Point, r float64) func(x, y float64) float64 {
	return func(x, y float64) float64 {
		u := math.Hypot(x-float64(mid.X), y-float64(mid.Y)) / r
		switch {
		case u >= 1:
			return 0
		case l == hide.RakeE:
			return -(x - float64(mid.X)) / r * (1 - u*u)
		}
		return -0.3
	}
}

// markedSurface is leather with marks under one light; what back light shows counts for nothing.
func markedSurface(t *testing.T, g pix.Grid, l hide.Light, r float64, mids ...hide.Point) *surface {
	t.Helper()
	s := &surface{grid: g, in: slices.Repeat([]bool{true}, g.Width*g.Height), lit: []litSurface{{light: hide.Back, tone: newField(g.Width, g.Height)}, {light: l, tone: grainField(t, g, 5, 0.01)}}}
	tone := s.lit[1].tone
	for i := range tone.v { // the mean over the pixel
		p := g.ToTable(pix.Point{X: hide.PX(i % g.Width), Y: hide.PX(i / g.Width)})
		for k := range 16 {
			x, y := float64(p.X)+float64(k%4)/4-0.375, float64(p.Y)+float64(k/4)/4-0.375
			for _, mid := range mids {
				tone.v[i] += float32(markTone(l, mid, r)(x, y) / 16)
			}
		}
	}
	return s
}

// A charted spot's middle holds to parts of a millimetre and its radius to a fifth or three quarters of a pixel, wherever it lies between pixels,
// though it was found 2.5 mm beside, and under a raking light where its light and dark sides lie 2 mm beside.
func TestFittedSpots(t *testing.T) {
	g := pix.TableGrid(400, 300, 1)
	for _, l := range []hide.Light{hide.Top, hide.RakeE} {
		for _, r := range []float64{2, 3, 4.5} {
			for _, mid := range []hide.Point{at(120, 80), at(120.3, 80.5), at(119.6, 80.9), at(3, 296)} {
				s := markedSurface(t, g, l, r, mid)
				found := spot{at: at(float64(mid.X)+1.5, float64(mid.Y)-2), radius: 2}
				fit, err := s.fitted(found)
				require.NoError(t, err)
				assert.Less(t, float64(fit.at.Distance(mid)), max(0.25, r/9), "%v %v %v", l, r, mid)
				want := r
				if l == hide.RakeE {
					want = r / math.Sqrt2 // the dome is near a Gaussian of deviation r/2
				}
				assert.InDelta(t, want, float64(fit.radius), max(0.75, r/5), "%v %v %v", l, r, mid)

				clear(s.in)
				fit, err = s.fitted(found)
				require.NoError(t, err)
				assert.Equal(t, found, fit, "off the leather")
			}
		}
	}
}

// A mark that was found twice is counted once; two marks side by side are two.
func TestSpotsFoundTwice(t *testing.T) {
	s := markedSurface(t, pix.TableGrid(400, 300, 1), hide.Top, 3, at(120, 80), at(129, 80))
	fit, err := s.fittedSpots([]spot{{at: at(121.5, 79), radius: 2, score: 5}, {at: at(118, 81), radius: 2, score: 9}, {at: at(129, 81), radius: 2, score: 7}})
	require.NoError(t, err)
	require.Len(t, fit, 2)
	assert.InDeltaSlice(t, []float64{9, 7}, []float64{fit[0].score, fit[1].score}, 0)
	shape, err := discsOf(fit)
	require.NoError(t, err)
	assert.Len(t, shape, 2)
}

func TestPeakOff(t *testing.T) {
	assert.InDelta(t, 0.25, peakOff(-1.5625, -0.0625, -0.5625), 1e-6) // −(x − 0.25)² at −1, 0, 1
	assert.Zero(t, peakOff(1, 0, 1), "no peak")
	assert.InDelta(t, 0.5, peakOff(0, 1, 1.9), 1e-6, "no further than half a step")
}

func TestWindowBeyondTheField(t *testing.T) {
	f := field{3, 2, []float32{1, 2, 3, 4, 5, 6}}
	assert.Equal(t, field{3, 3, []float32{0, 0, 0, 0, 1, 2, 0, 4, 5}}, f.window(0, 0, 1))
	assert.Equal(t, field{3, 3, []float32{2, 3, 0, 5, 6, 0, 0, 0, 0}}, f.window(2, 1, 1))
}
