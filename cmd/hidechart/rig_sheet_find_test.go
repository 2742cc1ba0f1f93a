package main

import (
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/calibrate"
	"hidechart/pix"
)

// A printed page rasterised again (poppler's pdftoppm) gives our own finder the
// right ids, upright (corners from the lower left, counter-clockwise, as
// libapriltag orders them), sizes and, on the strip, distances. Poppler blends
// edges in coded light, which moves them by up to a quarter pixel, 0.03 mm.
func TestSheetIsFound(t *testing.T) {
	stem := filepath.Join(t.TempDir(), "page")
	require.NoError(t, runCommand(t, "sheet", "--ids", "5-7", "--strip", "--paper", "A3", "--out", stem+".pdf"))
	out, err := exec.Command("pdftoppm", "-r", fmt.Sprint(dpi), "-gray", "-png", "-singlefile", stem+".pdf", stem).CombinedOutput()
	require.NoError(t, err, string(out))
	data, err := os.ReadFile(stem + ".png")
	require.NoError(t, err)
	sc := pix.NewScope()
	defer sc.Close()
	coded, err := pix.Decode(data, pix.DefaultLimits())
	require.NoError(t, err)
	linear, err := pix.Linear(sc.Keep(coded))
	require.NoError(t, err)
	grey, err := pix.Grey(sc.Keep(linear)) // as drawn, without a lens's blur
	require.NoError(t, err)
	seen, err := calibrate.FindTags(sc.Keep(grey), calibrate.Rig{})
	require.NoError(t, err)
	require.Len(t, seen, 3)
	for i, s := range seen {
		require.Equal(t, 5+i, s.ID)
		for k, c := range s.Corners {
			next := s.Corners[(k+1)%4]
			require.InDelta(t, 100, math.Hypot(float64(next.X-c.X), float64(next.Y-c.Y))*25.4/dpi, 0.1)
		}
		require.Less(t, s.Corners[0].X, s.Corners[1].X)    // lower left to lower right
		require.Greater(t, s.Corners[0].Y, s.Corners[3].Y) // and the upper left above it
		if i > 0 {
			require.InDelta(t, 133, float64(s.Corners[0].Y-seen[i-1].Corners[0].Y)*25.4/dpi, 0.05)
		}
	}
}
