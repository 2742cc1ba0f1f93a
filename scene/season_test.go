package scene

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hidechart/hide"
	"hidechart/plane"
)

// A chart made from truth agrees with the truth that the same Spec is rendered with: the same outline and
// holes, within what the chart simplifies (1 mm of the edge), and flaws that lie on the leather.
func TestTruthChartIsTheTruth(t *testing.T) {
	for _, seed := range []int64{3, 12, 70001} {
		spec := Spec{Seed: seed, WidthPX: 1500}
		c, err := TruthChart(spec)
		require.NoError(t, err)
		w := newWorld(spec.filled())
		whole := float64(w.outline.SignedArea())
		holes := 0.0
		for _, h := range c.Outline.Holes {
			holes -= float64(h.SignedArea())
		}
		assert.InDelta(t, whole, float64(c.Area.Value)+holes, 1.0*float64(w.outline.Length())+holes, "outline") // a hole may open to the edge
		assert.Equal(t, [2]hide.Point{w.neck, w.tail}, c.Backbone)
		var zones hide.MM2
		for _, z := range c.Zones {
			zones += z.Geometry.Area()
		}
		assert.InEpsilon(t, float64(c.Area.Value), float64(zones), 0.002, "zones cover the hide")
		outer := hide.Polygon{Outer: c.Outline.Outer}
		for _, d := range c.Defects {
			assert.Positive(t, float64(d.Area))
			assert.LessOrEqual(t, d.Probability, 0.99)
			assert.True(t, d.EdgeDistance == 0 || plane.Contains(outer, d.Geometry[0].Outer[0]) || d.Kind == hide.Hole)
		}
		again, err := TruthChart(spec)
		require.NoError(t, err)
		assert.Equal(t, c, again)
	}
}
