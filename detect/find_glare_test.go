package detect

import (
	"math"
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

// Glare over the border cuts a piece off the hide: it must not be measured without it.
func TestGlareOverTheBorderIsRefused(t *testing.T) {
	_, err := darkOnDark(440, 530, 50).outline(t, hide.Top)
	require.Error(t, err)
	assert.Equal(t, hide.NotMeasurable, hide.KindOf(err))
	assert.Contains(t, err.Error(), "glare")
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
