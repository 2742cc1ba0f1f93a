package scene_test

import (
	"context"
	"os"
	"path/filepath"
	"runtime"
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/hide"
	"hidechart/scene"
)

// small is a capture small enough for a test.
func small(seed int64) scene.Spec {
	return scene.Spec{Seed: seed, WidthPX: 1200, Lights: []hide.Light{hide.Top, hide.RakeE, hide.Back, hide.Empty}}
}

func rendered(t *testing.T, spec scene.Spec) map[string][]byte {
	t.Helper()
	dir := t.TempDir()
	require.NoError(t, scene.Render(context.Background(), spec, dir))
	entries, err := os.ReadDir(dir)
	require.NoError(t, err)
	out := map[string][]byte{}
	for _, e := range entries {
		data, err := os.ReadFile(filepath.Join(dir, e.Name()))
		require.NoError(t, err)
		out[e.Name()] = data
	}
	return out
}

// Same seed, same bytes, whatever the number of cores (issue 2).
func TestSameBytesAtAnyGOMAXPROCS(t *testing.T) {
	before := runtime.GOMAXPROCS(1)
	defer runtime.GOMAXPROCS(before)
	one := rendered(t, small(7))
	runtime.GOMAXPROCS(2)
	two := rendered(t, small(7))
	require.Len(t, one, 9)
	for name, data := range one {
		require.Equal(t, data, two[name], name)
	}
}

func TestSeedsDiffer(t *testing.T) {
	a, b := rendered(t, small(8)), rendered(t, small(9))
	for name := range a {
		require.NotEqual(t, a[name], b[name], name)
	}
}
