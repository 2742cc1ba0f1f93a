package detect

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/hide"
)

// greyHide is a disc of grey leather with a hole of 10 mm on a grey table.
func greyHide(leather, table float64) tableScene {
	s := darkOnLight()
	s.leather, s.table, s.noise = [3]float64{leather, leather, leather}, [3]float64{table, table, table}, 0.002
	disc, hole := s.inside, discAt(400, 300, 10)
	s.inside = func(x, y float64) float64 { return math.Min(disc(x, y), -hole(x, y)) }
	return s
}

// A place of the table's tone is a hole where marks are not as dark or light, as likely as not none where
// they may be, and not told from them in leather of nearly the table's tone.
func TestHolesByTone(t *testing.T) {
	for name, c := range map[string]struct {
		leather, table float64
		most           float64
	}{"far darker": {0.2, 0.8, 1}, "far lighter": {0.7, 0.1, 1}, "a little darker": {0.4, 0.52, 0.5}, "a little lighter": {0.4, 0.3, 0.5}} {
		t.Run(name, func(t *testing.T) {
			o, err := greyHide(c.leather, c.table).outline(t, hide.Top)
			require.NoError(t, err)
			require.Len(t, o.Holes, 1)
			require.Greater(t, o.Holes[0].Probability, c.most-0.5)
			require.Less(t, o.Holes[0].Probability, c.most)
		})
	}
	o, err := greyHide(0.4, 0.44).outline(t, hide.Top)
	require.NoError(t, err)
	require.Empty(t, o.Holes)
}

// Where pixels do not tell leather from table, leather must be farther from it.
func TestTrust(t *testing.T) {
	for apart, want := range map[float64][2]float64{0.1: {0, 0}, 0.3: {0.5, 0.5}, 0.7: {1, 0.5}, 1.2: {1, 1}} {
		require.InDelta(t, want[0], (&Found{}).trust(apart), 0)
		require.InDelta(t, want[1], (&Found{softly: true}).trust(apart), 0)
	}
}
