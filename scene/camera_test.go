package scene

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

// A lens of each kind that is drawn sends what lies farther out farther out,
// however far beside the picture: the end of a long table must not appear in the middle of
// one of its tiles. The reach is where the terms' own slope says.
func TestLensDoesNotFold(t *testing.T) {
	for _, k := range [][2]float64{{-0.15, -0.02}, {-0.15, 0.005}, {-0.087, -0.006}, {0.05, -0.02}, {0, 0}, {-0.15, 0.02}} {
		c := &camera{fx: 1000, fy: 1000, k1: k[0], k2: k[1]}
		before := -1.0
		for i := range 1000 {
			r := float64(i) / 100
			u, v := c.distort(0.6*r, 0.8*r)
			require.Greater(t, math.Hypot(u, v), before, "k %v, radius %g", k, r)
			before = math.Hypot(u, v)
		}
		if q := c.reach(); !math.IsInf(q, 1) {
			require.InDelta(t, leastSlope, 1+3*k[0]*q+5*k[1]*q*q, 1e-6)
			require.Greater(t, q, 1.0, "the corner of the widest picture lies at a radius of 0.97")
		}
	}
}
