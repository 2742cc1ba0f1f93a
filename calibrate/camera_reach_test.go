package calibrate

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

// With k1 alone the image's radius r(1 + k1 r²) turns back at r = 1/sqrt(-3 k1); k1 = -0.2 gives 1.291 and
// an image radius of 0.861, 860.7 px here. What lies farther out in the photograph shows nothing.
func TestDirectionsEndAtTheLensReach(t *testing.T) {
	c := Camera{FX: 1000, FY: 1000, CX: 800, CY: 600, K1: -0.2, Width: 1601, Height: 1201}
	for _, angle := range []float64{0, 0.3, 0.7, 1.2, 2, 3, 4, 5, 6} {
		for _, radius := range []float64{100, 500, 800, 850, 870, 1000, 1400} {
			u, v := c.direction(800+radius*math.Cos(angle), 600+radius*math.Sin(angle))
			x, y, ok := c.pixel(u, v)
			require.True(t, ok, "radius %g", radius)
			if radius > 860.7 {
				require.InDelta(t, 860.7, math.Hypot(x-800, y-600), 1, "radius %g", radius)
				radius = 860.7
			}
			require.InDelta(t, 800+radius*math.Cos(angle), x, 1, "radius %g", radius)
			require.InDelta(t, 600+radius*math.Sin(angle), y, 1, "radius %g", radius)
		}
	}
}

// The frame of such a photograph goes once round what it shows.
func TestFrameBeyondTheLensReach(t *testing.T) {
	v := View{Camera: Camera{FX: 1000, FY: 1000, CX: 800, CY: 600, K1: -0.2, Width: 1601, Height: 1201},
		R: [9]float64{1, 0, 0, 0, -1, 0, 0, 0, -1}, T: [3]float64{0, 0, 2000}}
	ring := v.Frame(0).Outer
	turned := 0.0
	for i, p := range ring {
		q := ring[(i+1)%len(ring)]
		turned += math.Atan2(float64(p.X*q.Y-p.Y*q.X), float64(p.X*q.X+p.Y*q.Y))
		require.Greater(t, math.Hypot(float64(p.X), float64(p.Y)), 1200.0)
	}
	require.InDelta(t, 2*math.Pi, turned, 1e-6)
	require.Positive(t, float64(ring.SignedArea()))
}
