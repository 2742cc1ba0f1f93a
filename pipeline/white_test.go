package pipeline

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/calibrate"
	"hidechart/hide"
	"hidechart/pix"
	"hidechart/scene"
)

// leatherColour is the mean linear light per channel of what is developed for the eye of the
// middle of the hide, and share the channels' light against green's.
func leatherColour(t *testing.T, spec scene.Spec) (raw, even []float64) {
	t.Helper()
	dir := t.TempDir()
	u, err := scene.NewStudio(t.Context(), spec)
	require.NoError(t, err)
	require.NoError(t, u.Take(t.Context(), scene.Fault{}, dir))
	c, err := OpenCapture(dir)
	require.NoError(t, err)
	p := DefaultParams()
	p.MMPerPX, p.CoarseMMPerPX = 2.5, 4
	in, err := readInputs(c, "", p)
	require.NoError(t, err)
	r, m, err := begin(in, p, false)
	require.NoError(t, err)
	defer r.Close()
	_, fine, err := m.rectified(t.Context(), r, func(string) {})
	require.NoError(t, err)
	defer fine.Close()
	defer m.flat.Close()
	white, err := evened(fine, m.flat, in.rig.Height)
	require.NoError(t, err)
	defer white.Close()
	at := fine.Grid.ToRaster(centreOf(u.Outline()))
	top := fine.Lights[hide.Top].Uint16s()
	return meanAround(fine.Lights[hide.Top], at, func(i int) float64 { return float64(top[i]) / 65535 }),
		meanAround(white, at, func(i int) float64 { return pix.SRGBToLinear(float64(white.Bytes()[i]) / 255) })
}

func meanAround(im *pix.Image, at pix.Point, light func(i int) float64) []float64 {
	const half = 40 // px: 20 cm of leather
	out := make([]float64, im.Channels())
	for y := int(at.Y) - half; y < int(at.Y)+half; y++ {
		for x := int(at.X) - half; x < int(at.X)+half; x++ {
			for c := range out {
				out[c] += light((y*im.Width()+x)*im.Channels()+c) / (4 * half * half)
			}
		}
	}
	return out
}

// The same hide under white and under strongly coloured lamps, at another exposure, has the same colour
// in the picture once the tags' white is the reference, and did not before.
func TestWhiteReferenceTakesTheLampsColourOff(t *testing.T) {
	spec := faultySpec()
	spec.Lights = []hide.Light{hide.Top}
	rawA, evenA := leatherColour(t, spec)
	spec.Cast = true
	rawB, evenB := leatherColour(t, spec)
	cast, left := 0.0, 0.0
	for c := range rawA {
		cast = max(cast, math.Abs(rawB[c]/rawA[c]-1))
		left = max(left, math.Abs(evenB[c]/evenA[c]-1))
	}
	t.Logf("lamps change a channel by %.1f %%, the picture by %.1f %%", 100*cast, 100*left)
	require.Greater(t, cast, 0.08, "the lamps are coloured")
	require.Less(t, left, 0.04) // JPEG keeps colour at half resolution: black bleeds into the paper's rim of 8 px
}

// A gain told by tags is the plane or parabola that their white was made from.
func TestWhiteFlat(t *testing.T) {
	rig := calibrate.Rig{Width: 3000, Height: 2000}
	light := func(p hide.Point) float64 {
		x, y := 2*float64(p.X/rig.Width)-1, 2*float64(p.Y/rig.Height)-1
		return 0.5 * math.Exp(0.2*x-0.1*y-0.25*x*x-0.1*y*y+0.05*x*y)
	}
	var whites []whitePatch
	for i := range 16 { // along the border
		f := hide.MM(i%4) / 4
		p := [4]hide.Point{{X: f * 3000, Y: 100}, {X: 2900, Y: f * 2000}, {X: (1 - f) * 3000, Y: 1900}, {X: 100, Y: (1 - f) * 2000}}[i/4]
		whites = append(whites, whitePatch{at: p, light: []float64{light(p), 0.8 * light(p), 0.6 * light(p)}})
	}
	gain := whitened(nil, whites, rig)
	defer gain.Close()
	for _, p := range []hide.Point{{X: 1500, Y: 1000}, {X: 700, Y: 1500}, {X: 2500, Y: 300}} {
		for c, share := range []float64{1, 0.8, 0.6} {
			// a cell of 40 mm changes by up to 1.5 %
			require.InEpsilon(t, share*light(p)/paperWhite, gainAt(gain, p, rig, c), 0.02)
		}
	}
	require.Nil(t, whiteFlat(whites[:3], rig))
	one := whitened(nil, whites[:1], rig)
	defer one.Close()
	require.InEpsilon(t, whites[0].light[0]/paperWhite, gainAt(one, whites[0].at, rig, 0), 1e-6)
}

// Without tags to tell, nothing changes.
func TestWhitenedWithoutWhites(t *testing.T) {
	require.Nil(t, whitened(nil, nil, calibrate.Rig{Width: 3000, Height: 2000}))
}
