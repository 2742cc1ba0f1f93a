package score

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/hide"
	"hidechart/pix"
)

func circle(x, y, radius float64) hide.Shape {
	var r hide.Ring
	for i := range 360 {
		a := float64(i) * math.Pi / 180
		r = append(r, hide.Point{X: hide.MM(x + radius*math.Cos(a)), Y: hide.MM(y + radius*math.Sin(a))})
	}
	return hide.Shape{{Outer: r}}
}

// Worked by hand from the definition: circles about one middle are as far apart as their
// radii differ; of two that are shifted by d, far smaller than the radius, points lie |d·cos φ| apart, 2d/π on the mean.
func TestBorderOff(t *testing.T) {
	g := pix.TableGrid(100, 80, 0.5)
	truth := Truth{Grid: g, Defects: []TruthDefect{{ID: 1, Kind: hide.Stain, Box: Box{30, 20, 70, 60}}}, ID: make([]uint16, g.Width*g.Height)}
	disc := fill(circle(50, 40, 18), g)
	disc.each(g.Width, func(i int) { truth.ID[i] = 1 })
	const stairs = 0.15 // a border of pixels goes in steps of half a millimetre
	require.InDelta(t, 0, truth.borderOff(0, circle(50, 40, 18)), stairs)
	require.InDelta(t, 3, truth.borderOff(0, circle(50, 40, 21)), stairs)
	require.InDelta(t, 4, truth.borderOff(0, circle(50, 40, 14)), stairs)
	require.InDelta(t, 2/math.Pi*2, truth.borderOff(0, circle(52, 40, 18)), stairs)
	require.True(t, math.IsNaN(truth.borderOff(0, nil)))
	require.Greater(t, truth.borderOff(0, rect(-1e9, -1e9, 1e9, 1e9)), 1e6, "a wild shape is far off, and ends")
}
