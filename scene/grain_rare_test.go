package scene

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Rare grains stay within bounds: heights of a steepness's worth, valleys from 0 to 1 and both in
// places; they are gone where the raster cannot hold them and each differs from the next seed's.
func TestRareGrains(t *testing.T) {
	const size, steep = 3.0, 0.1
	g := grain{leather: leather{steep: steep}}
	for name, relief := range map[string]func(x, y, size, clear float64, seed uint32) (float64, float64){
		"dome": g.dome, "crease": g.crease, "pore": g.pore, "roughness": g.roughness,
	} {
		var heights []float64
		low, high, other := 0.0, 0.0, 0.0
		for i := range 40000 {
			x, y := float64(i%200)*0.31, float64(i/200)*0.31
			h, valley := relief(x, y, size, 1, 5)
			require.LessOrEqual(t, math.Abs(h), size*steep, name)
			require.True(t, valley >= 0 && valley <= 1, name)
			none, _ := relief(x, y, size, 0, 5)
			require.Zero(t, none, name)
			next, _ := relief(x, y, size, 1, 6)
			other += math.Abs(h - next)
			heights = append(heights, h)
			if valley > 0.6 {
				low++
			}
			if valley < 0.1 {
				high++
			}
		}
		assert.Positive(t, other, name)
		assert.Positive(t, low, name)
		assert.Positive(t, high, name)
		slices.Sort(heights)
		assert.Greater(t, heights[len(heights)-1]-heights[0], 0.2*size*steep, name)
	}
}

// A crease is a thin line: few places lie in one.
func TestCreasesAreThin(t *testing.T) {
	g := grain{leather: leather{steep: 0.1}}
	in := 0
	for i := range 40000 {
		if _, valley := g.crease(float64(i%200)*0.31, float64(i/200)*0.31, 3, 1, 5); valley > 0.5 {
			in++
		}
	}
	assert.True(t, in > 200 && in < 6000, in)
}
