package main

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/calibrate"
	"hidechart/hide"
)

const lensPhotos = "../../calibrate/testdata/lens/"

// The command on published photographs (see calibrate's TestPublishedLens for
// the values): lens.yaml reads back, the picture lies beside it, a photograph
// without a board and a file that is none are left out by name.
func TestRigLens(t *testing.T) {
	dir := t.TempDir()
	out := filepath.Join(dir, "lens.yaml")
	broken := filepath.Join(dir, "broken.jpg")
	require.NoError(t, os.WriteFile(broken, []byte("no picture"), 0o600))
	photos, err := filepath.Glob(lensPhotos + "left*.jpg")
	require.NoError(t, err)
	args := append([]string{"lens", "--board", "9x6", "--square-mm", "25", "--out", out, broken}, photos...)
	require.NoError(t, runCommand(t, args...))
	data, err := os.ReadFile(out)
	require.NoError(t, err)
	lens, err := calibrate.ParseLens(data)
	require.NoError(t, err)
	require.InDelta(t, 535.916, lens.Camera.FX, 0.005*535.916)
	require.Contains(t, string(data), "broken.jpg")
	require.FileExists(t, filepath.Join(dir, "lens_residuals.png"))
}

func TestRigLensRefuses(t *testing.T) {
	out := filepath.Join(t.TempDir(), "lens.yaml")
	one := lensPhotos + "left01.jpg"
	err := runCommand(t, "lens", "--out", out, one)
	require.ErrorIs(t, err, hide.NotMeasurable)
	require.Equal(t, statusNotMeasurable, statusOf(err))
	for _, args := range [][]string{{"--board", "9"}, {"--board", "9x6x3"}, {"--board", "2x2"}, {"--square-mm", "0"}} {
		err := runCommand(t, append([]string{"lens", "--out", out, one}, args...)...)
		require.Equal(t, statusUsage, statusOf(err), args)
	}
	require.NoFileExists(t, out)
}
