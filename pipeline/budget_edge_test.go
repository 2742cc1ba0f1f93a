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
func TestLighterTable(t *testing.T) {
	g := pix.TableGrid(400, 400, 1)
	var disc hide.Ring
	for i := range 900 {
		s, c := math.Sincos(2 * math.Pi * float64(i) / 900)
		disc = append(disc, hide.Point{X: hide.MM(200 + 150*c), Y: hide.MM(200 + 150*s)})
	}
	for name, tone := range map[string]struct {
		leather, table uint16
		lighter        bool
	}{"white table": {9000, 45000, true}, "black table": {30000, 2000, false}} {
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
		got := lighterTable(detect.Photos{Grid: g, Lights: map[hide.Light]*pix.Image{hide.Top: top}}, disc)
		top.Close()
		require.Equal(t, tone.lighter, got, name)
	}
}

// By hand: the photograph's 0.3 mm, the rim's 0.1 mm and, where the rim throws shade,
// 0.3 of 2 mm as a rectangle about zero: 0.6/√3.
func TestEdgePartTakesShadeIn(t *testing.T) {
	m := measured{substance: 2, outline: detect.Outline{EdgeU: 0.3, Polygon: hide.Polygon{Outer: hide.Ring{{}, {X: 1000}, {X: 1000, Y: 500}, {Y: 500}}}}}
	dark := edgePart(m)
	require.InDelta(t, math.Hypot(0.3, 0.1)*3000, float64(dark.U), 1e-6)
	require.NotContains(t, dark.Text, "shade")
	m.lighter = true
	light := edgePart(m)
	require.InDelta(t, math.Sqrt(0.09+0.01+0.12)*3000, float64(light.U), 1e-6)
	require.Contains(t, light.Text, "shade")
}
