package calibrate

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

// An edge along the pixel rows at every tenth of a pixel, in the narrowest band (a
// cell of 5 px, a photograph 1500 px wide): both levels are read. Before, the outer
// thirds held no row of pixels at some offsets, and a clean tag was lost.
func TestLevelsOfAnEdgeAlongTheRows(t *testing.T) {
	for step := range 10 {
		var px []bandPixel
		for row := -3; row <= 3; row++ {
			d := float64(row) + float64(step)/10
			if math.Abs(d) > bandLeastPX {
				continue
			}
			for k := range 37 {
				v := 1500.0
				if d > 0 {
					v = 40000
				}
				px = append(px, bandPixel{s: float64(k)/18 - 1, d: d, v: v})
			}
		}
		e := edgeFit{half: 21}
		require.True(t, e.start(px, bandLeastPX), "offset %d", step)
		require.InDelta(t, 1500, e.dark, 0)
		require.InDelta(t, 40000, e.light, 0)
	}
}
