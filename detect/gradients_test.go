package detect

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/hide"
	"hidechart/pix"
)

// Directions of the gradient against scikit-image's histograms of oriented gradients, in the same
// cells. A share of 0.002: reference.py rounds to 0.0001, and a gradient at the edge of two bins may fall into either.
func TestDirectionsAgainstScikitImage(t *testing.T) {
	ref, f := readOwnReference(t)
	f, err := f.blurred(1)
	require.NoError(t, err)
	corners := [][2]int{{0, 0}, {5, 40}, {30, 20}, {50, 60}, {60, 3}}
	require.Len(t, ref.Directions, directionBins*len(corners))
	for k, c := range corners {
		var p picture
		for i := range p {
			p[i] = f.v[(c[0]+i/pictureSide)*f.w+c[1]+i%pictureSide]
		}
		x := make([]float64, gradientParts*gradientSums)
		p.directions(x)
		all, want := x[0]+x[1]+x[2], ref.Directions[directionBins*k:directionBins*(k+1)]
		var most float64
		for b, share := range want {
			most = math.Max(most, share/100)
			if b < gradientSums-1 {
				require.InDelta(t, (share+want[directionBins-1-b])/100, x[b]/all, 0.002, "corner %v, bin %d", c, b)
			}
		}
		require.InDelta(t, most, x[3], 0.002)
	}
}

// byWord finds the plainest candidate's gradients.
func byWord(t *testing.T, tone map[hide.Light]func(x, y float64) float64) map[string]float64 {
	t.Helper()
	found, err := Candidates(t.Context(), leatherScene{0.01, tone}.input(t), DefaultParams())
	require.NoError(t, err)
	out := map[string]float64{}
	for k, w := range gradientWords() {
		out[w] = found[0].Features[fGradients+k]
	}
	return out
}

// A scratch has its gradient across it and not about it, whichever way it runs on the table; a ridge shows under
// the raking light more across it.
func TestGradientsGoWithTheLine(t *testing.T) {
	for _, turn := range []float64{0, 0.3, 1.2, 1.57, 2.5} {
		dx, dy := 40*math.Cos(turn), 40*math.Sin(turn)
		mark := stroke(200-dx, 150-dy, 200+dx, 150+dy, -0.1)
		x := byWord(t, map[hide.Light]func(x, y float64) float64{hide.Top: mark})
		on := x["top light's gradient across in its middle on it"]
		require.Greater(t, on, 3*x["top light's gradient along in its middle on it"], "turned by %.1f", turn)
		require.Greater(t, on, 1.5*x["top light's gradient across in its middle about it"], "turned by %.1f", turn)
		east := func(x, y float64) float64 { return mark(x-0.7, y) - mark(x+0.7, y) }
		north := func(x, y float64) float64 { return mark(x, y-0.7) - mark(x, y+0.7) }
		x = byWord(t, map[hide.Light]func(x, y float64) float64{hide.Top: plain, hide.RakeE: east, hide.RakeN: north})
		require.Greater(t, x["across raking light's gradient across in its middle on it"],
			x["along raking light's gradient across in its middle on it"], "turned by %.1f", turn)
	}
}

// There is nothing to tell of a light that was not used.
func TestGradientsOfTopAlone(t *testing.T) {
	const ofOne = gradientParts * gradientSums
	x := byWord(t, map[hide.Light]func(x, y float64) float64{hide.Top: stroke(160, 150, 240, 150, -0.1)})
	for k, w := range gradientWords() {
		require.Equal(t, k%(gradientLights*ofOne) < ofOne, !math.IsNaN(x[w]), w)
	}
}

// A stroke seen whole fills the same part of its picture, however long it is.
func TestPictureOfTheWhole(t *testing.T) {
	for _, length := range []hide.MM{60, 200, 500} {
		c := candidate{form: lineForm, line: []hide.Point{at(0, 0), at(float64(length), 0)},
			shape: hide.Shape{{Outer: hide.Ring{at(0, 0), at(float64(length), 0), at(float64(length), 4), at(0, 4)}}}}
		whole := c.frames()[1]
		require.InDelta(t, 1/wholeShare, float64(length)/(whole.pixel*pictureSide), 1e-9)
		require.InDelta(t, 0, math.Sin(whole.angle), 1e-9)
	}
}

// Levels made of one another hold the means that a surface of larger pixels has.
func TestToneLevels(t *testing.T) {
	s := surfaceOf(t, leatherScene{0.02, map[hide.Light]func(x, y float64) float64{hide.Top: plain, hide.RakeN: plain, hide.Back: plain}}.input(t))
	for k, l := range s.toneLevels() {
		want, err := s.level(1 << k)
		require.NoError(t, err)
		require.Equal(t, want.grid, l.grid)
		for i, lit := range want.lit {
			if lit.light == hide.Back {
				require.Empty(t, l.tone[i].v, "no gradient is taken of it")
				continue
			}
			require.InDeltaSlice(t, lit.tone.v, l.tone[i].v, 1e-6)
		}
	}
}

// A tone keeps its sign and about its size, and what is no tone does no harm.
func TestPictureTone(t *testing.T) {
	for _, v := range []float64{0, 0.001, -0.01, 0.05, -0.3, 0.6} {
		step := 2 * math.Sqrt(math.Abs(v)*mostTone) / toneSteps
		require.InDelta(t, v, toneUnit*math.Sinh(float64(pictureTone(float32(v)))), step, "half a step of the root")
	}
	for _, v := range []float64{7, math.Inf(1), math.NaN()} {
		require.InDelta(t, math.Asinh(mostTone/toneUnit), math.Abs(float64(pictureTone(float32(v)))), 1e-6)
	}
	f, g := newField(20, 20), pix.TableGrid(20, 20, 1)
	for _, beyond := range []pictureFrame{{at(-500, 3), 1, 1}, {hide.Point{X: hide.MM(math.NaN())}, 0, 1}, {at(5, 5), math.NaN(), 1}, {at(5, 5), 0, math.Inf(1)}} {
		require.Equal(t, picture{}, beyond.picture(f, g))
	}
}
