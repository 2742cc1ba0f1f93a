package pipeline

import (
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/hide"
	"hidechart/scene"
	"hidechart/score"
)

// Hides that the eye sees at a glance on a table nearly as dark, by top light alone, with glare that
// passes the table's brightness. Before they were found by means, 4.5 dm² of 216, 180 of 230 and 251 of 294
// were measured; before by their colour too, 11 of 346.
func TestDimHidesAreMeasuredWhole(t *testing.T) {
	if testing.Short() {
		t.Skip("renders four hides")
	}
	for name, spec := range map[string]scene.Spec{
		"a large one":      {Seed: 3235, Article: "black glazed", Phone: true},
		"glazed, by phone": {Seed: 3043, Article: "black glazed", Phone: true},
		"glazed":           {Seed: 3003, Article: "black glazed"},
		"of another hue":   {Seed: 4096, Article: "black glazed", Phone: true},
	} {
		t.Run(name, func(t *testing.T) {
			spec.Table, spec.WidthPX, spec.Lights = "black", 3000, []hide.Light{hide.Top}
			dir := t.TempDir()
			require.NoError(t, scene.Render(t.Context(), spec, dir))
			truth, err := score.ReadTruth(dir)
			require.NoError(t, err)
			c, err := OpenCapture(dir)
			require.NoError(t, err)
			m, err := MeasureArea(t.Context(), c, "", DefaultParams())
			require.NoError(t, err)
			require.InEpsilon(t, float64(truth.Area), float64(m.Area.Value), 0.005)
		})
	}
}

// A hide of which glare cuts off a part is refused, not measured 6 % too small.
func TestAnOutlineWithoutAnEdgeIsRefused(t *testing.T) {
	if testing.Short() {
		t.Skip("renders a hide")
	}
	dir := t.TempDir()
	require.NoError(t, scene.Render(t.Context(), scene.Spec{Seed: 3403, Article: "black glazed", Phone: true, Table: "black", WidthPX: 3000, Lights: []hide.Light{hide.Top}}, dir))
	c, err := OpenCapture(dir)
	require.NoError(t, err)
	_, err = MeasureArea(t.Context(), c, "", DefaultParams())
	require.ErrorIs(t, err, hide.NotMeasurable)
	require.ErrorContains(t, err, "cannot be told from the table")
}
