package main

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/score"
)

func runSwatch(args ...string) (string, string, error) {
	var out, errs bytes.Buffer
	root := newRoot()
	root.SetOut(&out)
	root.SetErr(&errs)
	root.SetArgs(args)
	err := root.Execute()
	return out.String(), errs.String(), err
}

// Renders close-ups, scores them both ways and compares: the files written and
// the maps made on the way are the same to the last bit, one bad image does not
// stop the others, and flaws that no constant was chosen by stand out.
func TestSwatchEndToEnd(t *testing.T) {
	d := t.TempDir()
	_, _, err := runSwatch("swatch", "render", d, "--seed", "9100", "--count", "3", "--side-px", "320", "--mm-per-px", "0.2", "--flaws", "2", "--contrast", "1.5")
	require.NoError(t, err)
	bad := filepath.Join(d, "bad.jpg")
	require.NoError(t, os.WriteFile(bad, []byte("no picture"), 0o600))
	images, err := filepath.Glob(filepath.Join(d, "images", "*.jpg"))
	require.NoError(t, err)
	require.Len(t, images, 3)
	out := filepath.Join(d, "out")
	_, errs, err := runSwatch(append([]string{"swatch", bad, "--mm-per-px", "0.2", "--out", out}, images...)...)
	require.Equal(t, statusBadInput, statusOf(err))
	require.Contains(t, errs, "1 of 4 images")
	for _, ending := range []string{".score.png", ".swatch.json", ".overlay.png"} {
		require.FileExists(t, filepath.Join(out, "09101"+ending))
	}
	judge := func(more ...string) score.SwatchResult {
		text, _, err := runSwatch(append([]string{"score", "--swatches", d, "--json"}, more...)...)
		require.NoError(t, err)
		var r score.SwatchResult
		require.NoError(t, json.Unmarshal([]byte(text), &r))
		return r
	}
	made, read := judge(), judge("--maps", out)
	require.Equal(t, made, read)
	require.Equal(t, 3, made.Images)
	require.Greater(t, *made.AUROCMean, .85)
}

func TestSwatchUsage(t *testing.T) {
	for _, args := range [][]string{{"swatch"}, {"swatch", "a.png"}, {"swatch", "a.png", "--out", "x"}, {"swatch", "a.png", "b/a.jpg", "--out", "x", "--mm-per-px", ".2"},
		{"score", "a", "--swatches", "b"}, {"score"}} {
		_, _, err := runSwatch(args...)
		require.Equal(t, statusUsage, statusOf(err), "%v", args)
	}
}
