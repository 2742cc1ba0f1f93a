package main

import (
	"encoding/json"
	"math"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/export"
	"hidechart/hide"
)

// discChart writes the chart of a disc of 1 m radius with one stain.
func discChart(t *testing.T) string {
	t.Helper()
	disc := func(x, y, r float64, n int) hide.Ring {
		out := make(hide.Ring, n)
		for i := range out {
			sin, cos := math.Sincos(2 * math.Pi * float64(i) / float64(n))
			out[i] = hide.Point{X: hide.MM(x + r*cos), Y: hide.MM(y + r*sin)}
		}
		return out
	}
	outline := hide.Polygon{Outer: disc(1200, 1200, 1000, 720)}
	stain := hide.Shape{{Outer: disc(1200, 1200, 200, 90)}}
	hash := "0000000000000000000000000000000000000000000000000000000000000000"
	chart := hide.Chart{Format: hide.Format, Capture: hide.CaptureFacts{ID: "disc", Images: []hide.ImageFact{{Light: hide.Top, SHA256: hash, WidthPX: 9, HeightPX: 9}}},
		Frame: hide.Frame{Unit: "mm", Y: "up", MMPerPX: 0.5, RigSHA256: hash}, Area: hide.Area{Value: outline.Area(), U: 5000}, Outline: outline,
		Backbone: [2]hide.Point{{X: 200, Y: 1200}, {X: 2200, Y: 1200}}, Zones: []hide.ZoneShape{{Zone: hide.Butt, Geometry: hide.Shape{outline}}},
		Defects: []hide.Defect{{ID: 1, Kind: hide.Stain, Status: hide.Candidate, Probability: 0.6, Geometry: stain, Area: stain.Area(), Length: 400, Width: 400,
			Zone: hide.Butt, EdgeDistance: 800, Lights: []hide.Light{hide.Top}}},
		Flags: []hide.Flag{}, Tags: []hide.TagFit{}, MadeBy: hide.MadeBy{Version: "test", OpenCV: "test", SettingsSHA256: hash}}
	path := filepath.Join(t.TempDir(), "chart.json")
	require.NoError(t, export.WriteChart(path, chart))
	return path
}

// The names of the JSON are those of the design; the figures of a disc are
// known.
func TestYieldCommand(t *testing.T) {
	chart := discChart(t)
	dir := t.TempDir()
	write(t, dir, "set.svg", `<svg xmlns="http://www.w3.org/2000/svg" width="500mm" height="500mm" viewBox="0 0 500 500">
<rect id="panel" width="300" height="200" data-count="2"/><rect id="runner" y="250" width="2100" height="20"/></svg>`)
	o := hidechart("yield", filepath.Dir(chart), "--look", "rustic", "--pieces", filepath.Join(dir, "set.svg"), "--fit-cell", "4", "--grade", "es-1201", "--json")
	require.Equal(t, statusDone, o.status, o.err)
	var got struct {
		Results []struct {
			Hide          string                             `json:"hide"`
			AreaMM2       struct{ Median, P10, P90 float64 } `json:"area_mm2"`
			CuttableMM2   struct{ Median, P10, P90 float64 } `json:"cuttable_mm2"`
			CuttableShare struct{ Median, P10, P90 float64 } `json:"cuttable_share"`
			LookFirst     []struct{ ID int }                 `json:"look_first"`
			Grades        []struct{ Grade, Sentence string } `json:"grades"`
			Pieces        []struct {
				Piece      string  `json:"piece"`
				FitsMM2    float64 `json:"fits_mm2"`
				Placed     int     `json:"placed"`
				UpperBound int     `json:"upper_bound"`
				Note       string  `json:"note"`
			} `json:"pieces"`
			Sets int `json:"sets"`
		} `json:"results"`
	}
	require.NoError(t, json.Unmarshal([]byte(o.stdout), &got))
	require.Len(t, got.Results, 1)
	r := got.Results[0]
	require.Equal(t, "disc", r.Hide)
	require.InDelta(t, math.Pi*1e6, r.AreaMM2.Median, 100)
	// rustic leaves a strip of 5 mm and counts the stain without a margin
	require.InDelta(t, 0.995*0.995, r.CuttableShare.P90, 1e-4, "without the stain")
	require.InDelta(t, 0.995*0.995-0.04, r.CuttableShare.P10, 1e-4, "with it")
	require.Equal(t, 1, r.LookFirst[0].ID)
	require.Equal(t, "I", r.Grades[0].Grade)
	require.Positive(t, r.Pieces[0].Placed)
	require.LessOrEqual(t, r.Pieces[0].Placed, r.Pieces[0].UpperBound)
	require.Contains(t, r.Pieces[1].Note, "fits nowhere")
	require.Zero(t, r.Sets)
	require.Equal(t, o.stdout, hidechart("yield", chart, "--look", "rustic", "--pieces", filepath.Join(dir, "set.svg"), "--fit-cell", "4", "--grade", "es-1201", "--json").stdout, "the same bytes again")
	require.Contains(t, hidechart("yield", chart).stdout, "look first at candidates 1")
}

// Every refusal is a line and an exit status.
func TestYieldCommandRefuses(t *testing.T) {
	chart, dir := discChart(t), t.TempDir()
	write(t, dir, "look.yaml", "look: a\ndefects: {skar: counted}")
	for _, c := range []struct {
		args   []string
		status int
		text   string
	}{
		{[]string{"yield"}, statusUsage, "arg"},
		{[]string{"yield", chart, "--look", "shiny"}, statusBadInput, "classic, rustic"},
		{[]string{"yield", chart, "--look", filepath.Join(dir, "look.yaml")}, statusBadInput, `unknown kind "skar"`},
		{[]string{"yield", chart, "--grade", "mine"}, statusBadInput, "grade rule"},
		{[]string{"yield", chart, "--pieces", filepath.Join(dir, "none.svg")}, statusBadInput, "none.svg"},
		{[]string{"yield", chart, "--samples", "1"}, statusUsage, "samples"},
		{[]string{"yield", chart, "--sets", "-1"}, statusUsage, "--sets"},
		{[]string{"yield", filepath.Join(dir, "none.json")}, statusBadInput, "none.json"},
	} {
		o := hidechart(c.args...)
		require.Equal(t, c.status, o.status, "%v: %s", c.args, o.err)
		require.Contains(t, o.err, c.text)
	}
	o := hidechart("yield", filepath.Join(dir, "none.json"), chart, "--json")
	require.Equal(t, statusBadInput, o.status)
	require.Contains(t, o.stdout, `"hide": "disc"`, "one bad chart does not stop the others")
}
