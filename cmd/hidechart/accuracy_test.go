package main

import (
	"bytes"
	"image"
	"image/jpeg"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hidechart/hide"
	"hidechart/pipeline"
	"hidechart/scene"
)

// A capture that cannot be measured is told apart and ends nothing.
func TestAccuracyOutlivesARefusal(t *testing.T) {
	dir := t.TempDir()
	good, blank := filepath.Join(dir, "good"), filepath.Join(dir, "blank")
	require.NoError(t, scene.Render(t.Context(), scene.Spec{Seed: 5, WidthPX: 1500, Lights: []hide.Light{hide.Top}, ID: "good"}, good))
	require.NoError(t, linkCapture(good, blank, []hide.Light{hide.Top}))
	require.NoError(t, os.Remove(filepath.Join(blank, "capture.yaml")))
	var grey bytes.Buffer
	require.NoError(t, jpeg.Encode(&grey, image.NewGray(image.Rect(0, 0, 1500, 1000)), nil))
	require.NoError(t, os.WriteFile(filepath.Join(blank, "top.jpg"), grey.Bytes(), 0o600))

	f := &accuracyFlags{}
	seen, refused, err := f.judgeAll(t.Context(), []pipeline.Job{{Dir: good}, {Dir: blank}}, filepath.Join(dir, "charts"))
	require.NoError(t, err)
	require.Len(t, seen, 1)
	assert.Equal(t, "good", seen[0].Name)
	require.Len(t, refused, 1)
	assert.Equal(t, "blank", refused[0].name)
	var out bytes.Buffer
	writeRefused(&out, refused)
	assert.Contains(t, out.String(), "blank: ")
}
