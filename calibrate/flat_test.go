package calibrate

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/hide"
	"hidechart/pix"
)

// lamps is the light of two lamps by the inverse square law, at a place in mm.
func lamps(x, y float64) float64 {
	at := func(lx, ly, h float64) float64 {
		d := (x-lx)*(x-lx) + (y-ly)*(y-ly) + h*h
		return h * h * h * h / (d * d) // cosine and distance
	}
	return 0.7*at(600, 2000, 2500) + 0.5*at(2900, 800, 2500)
}

func TestFlatField(t *testing.T) {
	const mmPerPX, w, h = 5.0, 660, 520
	for name, c := range map[string]struct {
		hidden func(x, y float64) bool
		worst  float64 // relative, where the light is extrapolated too
	}{
		"empty table": {func(float64, float64) bool { return false }, 0.01},
		"under a hide": {func(x, y float64) bool {
			return math.Hypot((x-1650)/1250, (y-1300)/1000) < 1
		}, 0.03},
	} {
		table, mask := pix.New(w, h, pix.U16, 3), pix.New(w, h, pix.U8, 1)
		rnd := newRand(9)
		for y := range h {
			for x := range w {
				mx, my := (float64(x)+0.5)*mmPerPX, (float64(y)+0.5)*mmPerPX
				if c.hidden(mx, my) {
					table.Uint16s()[3*(y*w+x)] = 60000 // what is hidden is not read
					continue
				}
				mask.Bytes()[y*w+x] = 255
				for k, albedo := range []float64{0.4, 0.5, 0.6} {
					v := 40000 * albedo * lamps(mx, my) * (1 + 0.03*rnd.NormFloat64())
					if rnd.IntN(400) == 0 {
						v *= 3 // lint
					}
					table.Uint16s()[3*(y*w+x)+k] = uint16(min(v, 65535))
				}
			}
		}
		flat, err := FlatField(table, mask, mmPerPX, DefaultFlatParams())
		require.NoError(t, err)
		evened := pix.New(w, h, pix.U16, 3)
		for i := range evened.Uint16s() {
			p := i / 3
			evened.Uint16s()[i] = uint16(20000 * lamps((float64(p%w)+0.5)*mmPerPX, (float64(p/w)+0.5)*mmPerPX))
		}
		out, err := flat.Flatten(evened, mmPerPX)
		require.NoError(t, err)
		lo, hi, sum, gain := math.Inf(1), 0.0, 0.0, 0.0
		for i, v := range out.Uint16s() {
			lo, hi = min(lo, float64(v)), max(hi, float64(v))
			sum += float64(evened.Uint16s()[i]) / float64(w*h*3)
		}
		for _, g := range flat.Gain.Float32s() {
			gain += float64(g) / float64(len(flat.Gain.Float32s()))
		}
		require.InDelta(t, 1, gain, 1e-5)
		mean := (lo + hi) / 2
		t.Logf("%s: evened light from %.2f %% to %+.2f %%", name, 100*(lo/mean-1), 100*(hi/mean-1))
		require.Less(t, hi/mean-1, c.worst, name)
		require.InDelta(t, sum, mean, 0.03*sum, "the exposure stays")
		for _, im := range []*pix.Image{table, mask, evened, out} {
			im.Close()
		}
		flat.Close()
	}
}

func TestFlatFieldRefuses(t *testing.T) {
	table, mask := pix.New(100, 100, pix.U16, 1), pix.New(100, 100, pix.U8, 1)
	defer table.Close()
	defer mask.Close()
	_, err := FlatField(table, mask, 5, DefaultFlatParams())
	require.ErrorIs(t, err, hide.NotMeasurable)
	_, err = FlatField(mask, mask, 5, DefaultFlatParams())
	require.ErrorIs(t, err, hide.Invalid)
	_, err = FlatField(table, mask, 5, FlatParams{})
	require.ErrorIs(t, err, hide.Invalid)
}
