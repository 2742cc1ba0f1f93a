package pipeline

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/hide"
)

func folder(t *testing.T, files ...string) string {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "MH 7")
	require.NoError(t, os.Mkdir(dir, 0o755))
	for _, f := range files {
		require.NoError(t, os.WriteFile(filepath.Join(dir, f), nil, 0o644))
	}
	return dir
}

func TestOpenCapture(t *testing.T) {
	dir := folder(t, "rake-n.TIF", "Top.JPG", "empty.png", "back.jpeg", "rake_e.jpg", "truth_label.png", "rig.yaml", "notes.txt")
	c, err := OpenCapture(dir)
	require.NoError(t, err)
	require.Equal(t, "MH 7", c.ID, "the folder's name")
	var lights []hide.Light
	for _, p := range c.Photos {
		lights = append(lights, p.Light)
	}
	require.Equal(t, []hide.Light{hide.Top, hide.Back, hide.RakeN, hide.Empty}, lights, "in the order of hide.Lights")
	require.Equal(t, []string{"rake_e.jpg"}, c.Odd, "a slip in a light's name is told")
	p, ok := c.Photo(hide.RakeN)
	require.True(t, ok)
	require.Equal(t, filepath.Join(dir, "rake-n.TIF"), p.Path)
	require.Equal(t, filepath.Join(dir, "rig.yaml"), c.rigPath(""))
	require.Equal(t, "x", c.rigPath("x"))
}

func TestOpenCaptureRefuses(t *testing.T) {
	for word, files := range map[string][]string{
		"add top.jpg":           {"back.jpg"},
		"keep one":              {"top.jpg", "TOP.png"},
		"top.2 is missing":      {"top.1.jpg", "top.3.jpg"},
		"top.1 is missing":      {"top.2.jpg", "top.3.jpg"},
		"keep one or the other": {"top.jpg", "top.1.jpg"},
		"top.1 is there twice":  {"top.1.jpg", "top.01.png"},
		"numbered from 1":       {"top.0.jpg", "top.1.jpg"},
		"rake-n.1 is missing":   {"top.1.jpg", "top.2.jpg", "rake-n.2.jpg"},
	} {
		_, err := OpenCapture(folder(t, files...))
		require.ErrorIs(t, err, hide.Invalid)
		require.ErrorContains(t, err, word)
	}
	_, err := OpenCapture(filepath.Join(t.TempDir(), "none"))
	require.ErrorIs(t, err, hide.Unreadable)
}

// Everything that can change a chart changes the hash of its settings, and
// nothing else does.
func TestSettingsSum(t *testing.T) {
	base := func() string {
		s, err := settingsSum(DefaultParams(), hide.CaptureNote{}, "")
		require.NoError(t, err)
		return s
	}
	first := base()
	require.Equal(t, first, base())
	p := DefaultParams()
	p.Outline.Simplify *= 2
	seen := map[string]bool{base(): true}
	for _, next := range []struct {
		p    Params
		note hide.CaptureNote
		lens string
	}{{p, hide.CaptureNote{}, ""}, {DefaultParams(), hide.CaptureNote{Lot: "a"}, ""},
		{DefaultParams(), hide.CaptureNote{Backbone: &[2]hide.Point{{X: 1}, {X: 2}}}, ""}, {DefaultParams(), hide.CaptureNote{}, "a"}} {
		s, err := settingsSum(next.p, next.note, next.lens)
		require.NoError(t, err)
		require.False(t, seen[s])
		seen[s] = true
	}
}

func TestParamsListAllFaults(t *testing.T) {
	require.NoError(t, DefaultParams().Validate())
	p := DefaultParams()
	p.MMPerPX, p.Margin, p.Outline.EdgeBand, p.SpreadingU = 9, 1, -1, 2
	err := p.Validate()
	for _, word := range []string{"mm_per_px", "margin", "edge band", "spreading_u"} {
		require.ErrorContains(t, err, word)
	}
}
