package main

import (
	"encoding/json"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/hide"
	"hidechart/pipeline"
)

func settings(t *testing.T, config string, args ...string) (chartSettings, error) {
	t.Helper()
	c := newChart()
	require.NoError(t, c.ParseFlags(args))
	return readSettings(c.Flags(), config)
}

func TestSettingsOrder(t *testing.T) {
	dir := t.TempDir()
	write(t, dir, "s.yaml", "substance: 2\nmargin: 50\nout: a\noutline:\n  edge_band: 9\ncalibrate:\n  tag_u_mm: 0.4\n")
	t.Setenv("HIDECHART_MARGIN", "60")
	t.Setenv("HIDECHART_OUTLINE_LEVEL_WINDOW", "15")
	s, err := settings(t, filepath.Join(dir, "s.yaml"), "--substance", "3", "--at-once", "1")
	require.NoError(t, err)
	require.InDelta(t, 3, float64(s.Params.Substance), 0, "flag before file")
	require.InDelta(t, 60, float64(s.Params.Margin), 0, "environment before file")
	require.InDelta(t, 15, float64(s.Params.Outline.LevelWindow), 0)
	require.InDelta(t, 9, float64(s.Params.Outline.EdgeBand), 0)
	require.InDelta(t, 0.4, float64(s.Params.Calibrate.TagU), 0)
	require.Equal(t, "a", s.Out)
	require.Equal(t, 1, s.AtOnce)
	require.InDelta(t, 2, float64(s.Params.CoarseMMPerPX), 0, "default")
}

// What a chart stores of its settings gives the same settings when it is read back as a
// settings file (JSON is YAML), every one of them.
func TestStoredSettingsReadBack(t *testing.T) {
	p := pipeline.DefaultParams()
	p.SpreadingU, p.Outline.EdgeBand, p.Calibrate.TagU, p.MMPerPX, p.MaxPixels = 0.003, 9, 0.4, 0.7, 1e6
	stored, err := p.Settings()
	require.NoError(t, err)
	data, err := json.Marshal(stored)
	require.NoError(t, err)
	require.Less(t, len(data), 4000, "small")
	dir := t.TempDir()
	write(t, dir, "s.yaml", string(data))
	s, err := settings(t, filepath.Join(dir, "s.yaml"))
	require.NoError(t, err)
	require.Equal(t, p, s.Params)
}

func TestUnknownSettingsAreRefused(t *testing.T) {
	dir := t.TempDir()
	for text, word := range map[string]string{
		"substence: 2":               "substence",
		"outline: {edge_bend: 9}":    "edge_bend",
		"margin: wide":               "margin",
		"calibrate: {tagu: 1, x: 2}": "tagu",
	} {
		write(t, dir, "s.yaml", text)
		_, err := settings(t, filepath.Join(dir, "s.yaml"))
		require.ErrorContains(t, err, word)
		require.Equal(t, statusUsage, statusOf(err))
	}
	t.Setenv("HIDECHART_MARGEN", "60")
	_, err := settings(t, "")
	require.ErrorContains(t, err, "HIDECHART_MARGEN")
	require.Equal(t, statusUsage, statusOf(err))
}

func TestUsage(t *testing.T) {
	for _, args := range [][]string{
		{"chart"}, {"chart", "x"}, {"chart", "x", "--out"}, {"chart", "x", "--colour", "red"}, {"nonsense"},
		{"chart", "x", "--out", "y", "--margin", "-1"}, {"chart", "x", "--out", "y", "--substance", "-1"},
		{"chart", "x", "--out", "y", "--settings", "/nowhere.yaml"}, {"scene"}, {"score", "one"}, {"export", "x"},
		{"export", "x", "--to", "bmp"}, {"scene", "x", "--width", "10"}, {"version", "--log-level", "loud"},
	} {
		o := hidechart(args...)
		require.Equal(t, statusUsage, o.status, "%v: %s", args, o.err)
		require.Regexp(t, `^hidechart: [^\n]+\n$`, o.err, "one line")
	}
	require.Equal(t, statusDone, hidechart("version").status)
	require.Contains(t, hidechart("version").stdout, version)
	require.Equal(t, statusBadInput, hidechart("score", "/nowhere", "/nowhere").status)
	require.Equal(t, statusBadInput, hidechart("export", "/nowhere", "--to", "svg").status)
}

// The rule in hidechart --help: 1 before 3 before 4.
func TestWorst(t *testing.T) {
	require.Equal(t, statusNotMeasurable, worst([]int{4, 4}))
	require.Equal(t, statusBadInput, worst([]int{4, 3}))
	require.Equal(t, statusOther, worst([]int{4, 3, 1}))
	require.Equal(t, statusDone, worst(nil))
}

func TestEveryKindHasAStatus(t *testing.T) {
	for _, k := range []hide.ErrorKind{hide.Invalid, hide.Unreadable, hide.NotMeasurable, hide.NotFound, hide.Conflict, hide.Internal} {
		require.NotZero(t, statusTable()[k], k)
	}
}
