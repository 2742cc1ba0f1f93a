package detect

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hidechart/hide"
)

// darkOnDark is leather a little darker than its table, with glare of a deviation of spread mm
// about a point, five times as bright as the leather at its middle.
func darkOnDark(x0, y0, spread float64) tableScene {
	s := darkOnLight()
	s.table = [3]float64{0.11, 0.11, 0.11}
	s.extra = func(x, y float64) float64 {
		d := math.Hypot(x-x0, y-y0) / spread
		return math.Log(1 + 4*math.Exp(-d*d/2))
	}
	return s
}

// Glare over the border cuts a piece off the hide, which is joined to it again. Where leather is as bright as
// the table the border does not show: how far off it may be is in the uncertainty of the edge.
func TestGlareOverTheBorder(t *testing.T) {
	for _, y := range []float64{500, 530, 560} {
		o, err := darkOnDark(440, y, 50).outline(t, hide.Top)
		require.NoError(t, err)
		assert.Empty(t, o.Holes)
		assert.InEpsilon(t, math.Pi*230*230, float64(o.Polygon.Area()), 0.006, "glare at %g", y)
		if y == 500 { // a step is left all along the edge, though a faint one
			continue
		}
		assert.InDelta(t, math.Pi*230*230, float64(o.Polygon.Area()), float64(2*o.EdgeU*o.Polygon.Outer.Length()), "glare at %g", y)
		assert.True(t, slices.ContainsFunc(o.Flags, func(f hide.Flag) bool { return f.Code == "edge_unseen" }))
	}
}

// Glare in the middle of the hide leaves a ring of the table's brightness: no holes.
func TestGlareIsNoHole(t *testing.T) {
	o, err := darkOnDark(440, 360, 50).outline(t, hide.Top)
	require.NoError(t, err)
	assert.Empty(t, o.Holes)
	assert.InEpsilon(t, math.Pi*230*230, float64(o.Polygon.Area()), 0.01)
}

// A sheet of white paper beside dark leather is bright up to its edge: it is left out, and said.
func TestPaperIsNoGlare(t *testing.T) {
	s := darkOnDark(0, 0, 1)
	body, paper := discAt(390, 360, 230), discAt(690, 360, 60)
	s.inside = func(x, y float64) float64 { return max(body(x, y), paper(x, y)) }
	s.extra = func(x, y float64) float64 {
		if paper(x, y) > -5 {
			return 2.5
		}
		return 0
	}
	o, err := s.outline(t, hide.Top)
	require.NoError(t, err)
	assert.InEpsilon(t, math.Pi*230*230, float64(o.Polygon.Area()), 0.01)
}
