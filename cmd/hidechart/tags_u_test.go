package main

import (
	"math"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/hide"
	"hidechart/pipeline"
	"hidechart/scene"
)

// The same hide with four tags and with sixteen, no lens file, through the whole
// chain: four are enough, and the ± says what they cost (issue 3). The flag
// names the lens's share of this outline, as the budget has it. Truth: the
// scene's own.
func TestFourTagsAreLessSureThanSixteen(t *testing.T) {
	whole := false
	u, lens := map[int]float64{}, map[int]float64{}
	for _, tags := range []int{4, 16} {
		dir := t.TempDir()
		spec := scene.Spec{Seed: 77, WidthPX: 1800, Tags: tags, Article: "crust grey", Table: "black", TiltDeg: 2.5, Lights: []hide.Light{hide.Top}, Side: &whole, Defects: -1, NoLookAlikes: true}
		require.NoError(t, scene.Render(t.Context(), spec, dir))
		truth, err := scene.TruthChart(spec)
		require.NoError(t, err)
		c, err := pipeline.OpenCapture(dir)
		require.NoError(t, err)
		got, err := pipeline.MeasureArea(t.Context(), c, filepath.Join(dir, "rig.yaml"), pipeline.DefaultParams())
		require.NoError(t, err)
		a := float64(got.Area.Value)
		u[tags] = 100 * float64(got.Area.U) / a
		for _, b := range got.Area.Budget {
			if b.Source == "lens" {
				lens[tags] = 100 * float64(b.U) / a
			}
		}
		requireFlag(t, got.Flags, "lens_from_tags", lens[tags])
		off := 100 * (a/float64(truth.Area.Value) - 1)
		t.Logf("%d tags: error %+.3f %%, u %.3f %%, of it lens %.3f %%", tags, off, u[tags], lens[tags])
		require.Less(t, math.Abs(off), 3*u[tags], tags)
	}
	require.Greater(t, u[4], u[16])
	require.Greater(t, lens[4], 1.5*lens[16])
}

// requireFlag finds the one flag of a code; its value to what is printed of it.
func requireFlag(t *testing.T, flags []hide.Flag, code string, value float64) {
	t.Helper()
	for _, f := range flags {
		if f.Code == code {
			require.InDelta(t, value, f.Value, 1e-9)
			require.Contains(t, f.Text, "%")
			return
		}
	}
	require.Fail(t, "no flag "+code)
}
