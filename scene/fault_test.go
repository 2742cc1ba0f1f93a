package scene_test

import (
	"context"
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/hide"
	"hidechart/scene"
)

// A capture without a fault is what Render makes, to the byte; with one it is
// another, and the next without is the first again.
func TestStudioTakesWhatRenderRenders(t *testing.T) {
	spec := small(11)
	spec.WidthPX, spec.Lights = 700, []hide.Light{hide.Top, hide.RakeE}
	want := rendered(t, spec)
	u, err := scene.NewStudio(context.Background(), spec)
	require.NoError(t, err)
	take := func(f scene.Fault) map[string]string {
		dir := t.TempDir()
		require.NoError(t, u.Take(context.Background(), f, dir))
		out := map[string]string{}
		for _, name := range []string{"top.jpg", "rake-e.jpg", "rig.yaml", "capture.yaml"} {
			data, err := os.ReadFile(filepath.Join(dir, name))
			require.NoError(t, err)
			out[name] = string(data)
		}
		return out
	}
	middle := u.Outline()[0]
	bent := take(scene.Fault{Waves: []scene.Wave{{At: middle, Height: 30, Width: 80, Length: 80}}})
	require.NotEqual(t, string(want["rake-e.jpg"]), bent["rake-e.jpg"])
	for name, data := range take(scene.Fault{}) {
		require.Equal(t, string(want[name]), data, name)
	}
}

// The slope of a Gaussian h·exp(−x²/2s²) is steepest at x = s: h/(s·√e).
func TestWaveSteepest(t *testing.T) {
	require.InDelta(t, math.Atan(20/(50*math.Sqrt(math.E)))*180/math.Pi, scene.Wave{Height: 20, Width: 50, Length: 300}.Steepest(), 1e-9)
}
