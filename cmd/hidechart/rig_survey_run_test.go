package main

import (
	"fmt"
	"image/png"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/calibrate"
	"hidechart/export"
	"hidechart/hide"
)

// A rendered table, photographed under two lights: the written file is a rig whose
// tags lie where the scene's do, within what one place of the camera allows (0.3 %,
// see docs/rig.md), and the table says what is doubtful.
func TestRigSurveyRuns(t *testing.T) {
	dir := render(t, filepath.Join(t.TempDir(), "scene"), 5, hide.Top, hide.Empty)
	out := filepath.Join(t.TempDir(), "rig.yaml")
	data, err := os.ReadFile(filepath.Join(dir, "rig.yaml"))
	require.NoError(t, err)
	truth, err := calibrate.ParseRig(data)
	require.NoError(t, err)
	ids := truth.IDs()
	a, b := ids[0], ids[len(ids)-1]
	length := truth.Centres[a].Distance(truth.Centres[b])
	o := hidechart("rig", "survey", "--edge-mm", fmt.Sprint(float64(truth.TagEdge)), "--known", fmt.Sprintf("%d-%d=%.3f±0.2", a, b, float64(length)),
		"--out", out, filepath.Join(dir, "top.jpg"), filepath.Join(dir, "empty.jpg"))
	require.Equal(t, statusDone, o.status, o.err)
	require.Contains(t, o.stdout, "2 photographs; take five or more")
	data, err = os.ReadFile(out)
	require.NoError(t, err)
	got, err := calibrate.ParseRig(data)
	require.NoError(t, err, string(data))
	require.GreaterOrEqual(t, len(got.Centres), len(ids)-2)
	require.InDelta(t, float64(length), float64(got.Centres[a].Distance(got.Centres[b])), 0.01)
	for id, p := range got.Centres {
		for other, q := range got.Centres {
			want := float64(truth.Centres[id].Distance(truth.Centres[other]))
			require.InDelta(t, want, float64(p.Distance(q)), 0.003*3300, "%d-%d", id, other)
		}
	}
}

// Forty charts with a tag that moves after the thirtieth: the log names it, ends
// with status 1 and leaves a picture.
func TestRigLogRuns(t *testing.T) {
	dir := t.TempDir()
	rnd := rand.New(rand.NewPCG(1, 2))
	for i := range 40 {
		c := hide.Chart{Format: hide.Format, Area: hide.Area{Value: 1e4, U: 10}, Frame: hide.Frame{Unit: "mm", Y: "up", MMPerPX: 1},
			Outline:  hide.Polygon{Outer: hide.Ring{{}, {X: 100}, {X: 100, Y: 100}, {Y: 100}}},
			Backbone: [2]hide.Point{{X: 0, Y: 50}, {X: 100, Y: 50}},
			Capture: hide.CaptureFacts{ID: fmt.Sprintf("hide-%02d", i), Note: fmt.Sprintf("2026-%02d-%02d", 1+i/28, 1+i%28),
				Images: []hide.ImageFact{{Light: hide.Top, SHA256: fmt.Sprintf("%064d", i), WidthPX: 10, HeightPX: 10}}}}
		for tag := range 6 {
			r := 0.1 + 0.1*rnd.Float64()
			if tag == 4 && i >= 30 {
				r += 0.6
			}
			c.Tags = append(c.Tags, hide.TagFit{ID: tag, Light: hide.Top, ResidualMM: hide.MM(r), ResidualPX: hide.PX(r)})
		}
		require.NoError(t, os.MkdirAll(filepath.Join(dir, c.Capture.ID), 0o750))
		require.NoError(t, export.WriteChart(filepath.Join(dir, c.Capture.ID, "chart.json"), c))
	}
	folders, err := filepath.Glob(filepath.Join(dir, "hide-*"))
	require.NoError(t, err)
	picture := filepath.Join(dir, "drift.png")
	o := hidechart(append([]string{"rig", "log", "--out", picture}, folders...)...)
	require.Equal(t, statusOther, o.status, o.err)
	require.Contains(t, o.stdout, "tag 4: residual rose from 0.1")
	require.Contains(t, o.stdout, "2026-02-12  note  hide-39")
	f, err := os.Open(picture)
	require.NoError(t, err)
	defer func() { require.NoError(t, f.Close()) }()
	_, err = png.DecodeConfig(f)
	require.NoError(t, err)

	quiet := hidechart(append([]string{"rig", "log", "--out", ""}, folders[:25]...)...)
	require.Equal(t, statusDone, quiet.status)
	require.Contains(t, quiet.stdout, "no lasting change")
}
