package pipeline

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/detect"
	"hidechart/hide"
	"hidechart/pix"
)

// A disc of leather on a table, darker and lighter than it, with a quarter of the
// table beside it under tags of the other tone.
func TestContrastBeside(t *testing.T) {
	g := pix.TableGrid(400, 400, 1)
	var disc hide.Ring
	for i := range 900 {
		s, c := math.Sincos(2 * math.Pi * float64(i) / 900)
		disc = append(disc, hide.Point{X: hide.MM(200 + 150*c), Y: hide.MM(200 + 150*s)})
	}
	for name, tone := range map[string]struct {
		leather, table uint16
		want           float64
	}{"white table": {9000, 45000, 1 - 9000./45000}, "black table": {30000, 2000, 1 - 30000./2000}} {
		top := pix.New(400, 400, pix.U16, 3)
		for y := range 400 {
			for x := range 400 {
				v := tone.table
				if d := math.Hypot(float64(x)-200, float64(y)-200); d < 150 {
					v = tone.leather
				} else if x > 300 {
					v = 65535 - tone.table // tags
				}
				for c := range 3 {
					top.Uint16s()[(y*400+x)*3+c] = v
				}
			}
		}
		got := contrastBeside(detect.Photos{Grid: g, Lights: map[hide.Light]*pix.Image{hide.Top: top}}, disc)
		top.Close()
		require.InDelta(t, tone.want, got, 1e-9, name)
	}
}

// By hand: the photograph's 0.3 mm, the rim's 0.1 mm and, where the table is lighter by half, half of
// t·r/√(1−r²) with t = 2 mm and r = 0.5, 0.577 mm, as a rectangle about zero: 0.577/√3 = 1/3.
func TestEdgePartTakesShadeIn(t *testing.T) {
	m := measured{substance: 2, contrast: -9, outline: detect.Outline{EdgeU: 0.3, Blur: 1, Polygon: hide.Polygon{Outer: hide.Ring{{}, {X: 1000}, {X: 1000, Y: 500}, {Y: 500}}}}}
	dark := edgePart(m)
	require.InDelta(t, math.Hypot(0.3, 0.1)*3000, float64(dark.U), 1e-6)
	require.NotContains(t, dark.Text, "shade")
	m.contrast = 0.5
	light := edgePart(m)
	require.InDelta(t, math.Sqrt(0.09+0.01+1./9)*3000, float64(light.U), 1e-6)
	require.Contains(t, light.Text, "shade")
}

// The less leather and table differ, the farther shade moves the edge; not at all on a table far
// darker than the leather. Where a line of t/2 takes as much as half of the step, worked out by hand
// for a step of 0.2 of the table, a blur of 1 mm and t = 2 mm: z = √(−2 ln(√(2π)·0.2/2)) = 1.663.
func TestRimShade(t *testing.T) {
	require.InDelta(t, 1.663/math.Sqrt(3), rimShade(-0.2, 2, 1), 1e-3)
	require.Zero(t, rimShade(-1, 2, 1))
	require.Zero(t, rimShade(-0.2, 2, 0))
	for _, way := range []float64{1, -1} {
		last := math.Inf(1)
		for _, contrast := range []float64{0.05, 0.1, 0.2, 0.4} {
			u := rimShade(way*contrast, 1.5, 1)
			require.Less(t, u, last)
			last = u
		}
	}
	require.InDelta(t, rimShade(0.03, 1.5, 1), rimShade(0.001, 1.5, 1), 1e-12)
}
