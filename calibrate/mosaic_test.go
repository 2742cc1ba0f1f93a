package calibrate

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/hide"
	"hidechart/pix"
)

// Two photographs of an even table, one at 0.7 of the other's exposure, both
// falling off by 30 % in r² and 5 % in r⁴: merged they are even again, to half a percent
// across the crossing, and nothing is cut off.
func TestMosaicIsEven(t *testing.T) {
	var m Mosaic
	var pictures []*pix.Exposure
	for i, exposure := range []float64{0, math.Log(0.7)} {
		v := View{Camera: Camera{FX: 500, FY: 500, CX: 299.5, CY: 199.5, Width: 600, Height: 400}, R: [9]float64{1, 0, 0, 0, -1, 0, 0, 0, -1}}
		v.T = [3]float64{-(700 + 800*float64(i)), 500, 1000}
		im := pix.New(600, 400, pix.U16, 1)
		for k := range im.Uint16s() {
			r := v.radius(pix.Point{X: hide.PX(k % 600), Y: hide.PX(k / 600)})
			im.Uint16s()[k] = uint16(math.Round(65535 * pix.LinearToSRGB(0.61*math.Exp(exposure-0.3*r*r-0.05*r*r*r*r))))
		}
		photo, err := pix.NewExposure(im)
		require.NoError(t, err)
		defer photo.Close()
		m, pictures = append(m, v), append(pictures, photo)
	}
	g := pix.TableGrid(2200, 1000, 2)
	b := m.Even(pictures, g, 0)
	require.InDelta(t, math.Log(0.7), b.Log[0][0]-b.Log[1][0], 0.003)
	out := pix.New(g.Width, g.Height, pix.U16, 1)
	defer out.Close()
	for i := range m {
		require.NoError(t, m.Warp(out, i, pictures[i], g, 0, b))
	}
	frame, err := m.Frame(0, hide.Polygon{Outer: hide.Ring{{}, {X: 2200}, {X: 2200, Y: 1000}, {Y: 1000}}})
	require.NoError(t, err)
	lo, hi := math.Inf(1), 0.0
	for x := 170; x < 1020; x++ { // 340 to 2040 mm along the middle
		v := float64(out.Uint16s()[g.Height/2*g.Width+x])
		lo, hi = min(lo, v), max(hi, v)
	}
	t.Logf("fall-off %.3f %.3f, scatter %.4f, light %.0f to %.0f, frame %.2f m²", b.FallOff[0], b.FallOff[1], b.Scatter, lo, hi, float64(frame.Area())/1e6)
	require.Less(t, hi/lo-1, 0.002)
	for c := 500; c < 600; c++ { // across the crossing at 1100 mm
		a, b := float64(out.Uint16s()[g.Height/2*g.Width+c]), float64(out.Uint16s()[g.Height/2*g.Width+c+1])
		require.InDelta(t, 1, a/b, 0.005)
	}
	require.Less(t, hi, 65535.0)
	for _, p := range []hide.Point{{X: 400, Y: 500}, {X: 1100, Y: 500}, {X: 1900, Y: 300}} {
		s := m.Shares(p, 0)
		require.InDelta(t, 1, s[0]+s[1], 1e-12)
	}
}
