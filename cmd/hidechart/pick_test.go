package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/export"
)

const squarePiece = `<svg xmlns="http://www.w3.org/2000/svg" width="500mm" height="500mm" viewBox="0 0 500 500"><rect id="panel" width="400" height="400"/></svg>`

// copyChart puts a chart into a folder of a lot under another id.
func copyChart(t *testing.T, path, lot, id string) {
	t.Helper()
	c, err := export.ReadChart(path)
	require.NoError(t, err)
	c.Capture.ID = id
	require.NoError(t, os.MkdirAll(filepath.Join(lot, id), 0o755))
	require.NoError(t, export.WriteChart(filepath.Join(lot, id, export.ChartName), c))
}

// A folder of charts against a project: ranked, put together, priced; the same bytes
// again; a bad chart does not stop the others.
func TestPickCommand(t *testing.T) {
	chart, dir := discChart(t), t.TempDir()
	lot := filepath.Join(dir, "lot")
	copyChart(t, chart, lot, "A")
	copyChart(t, chart, lot, "B")
	write(t, dir, "set.svg", squarePiece)
	write(t, dir, "p.yaml", "project: cushions\nlook: rustic\npieces: set.svg\nsets: 14\nprices: {currency: EUR, hides: {A: 100, B: 120}}")
	args := []string{"pick", "--project", filepath.Join(dir, "p.yaml"), lot, "--fit-cell", "5", "--json"}
	o := hidechart(args...)
	require.Equal(t, statusDone, o.status, o.err)
	var got struct {
		Hides []struct {
			Hide, Verdict string
			Rank, Sets    int
			Reasons       []string
			PerSet        float64 `json:"cost_per_set"`
		}
		Together struct {
			Met, Proven bool
			Cost        float64
			Hides       []struct {
				Hide string
				Sets int
			}
		}
	}
	require.NoError(t, json.Unmarshal([]byte(o.stdout), &got))
	require.Len(t, got.Hides, 2)
	require.Equal(t, "A", got.Hides[0].Hide, "the cheaper of two alike")
	require.Greater(t, got.Hides[0].Sets, 7)
	require.InDelta(t, 100/float64(got.Hides[0].Sets), got.Hides[0].PerSet, 1e-9)
	require.NotEmpty(t, got.Hides[0].Reasons)
	require.True(t, got.Together.Met)
	require.True(t, got.Together.Proven)
	require.Equal(t, o.stdout, hidechart(args...).stdout)
	text := hidechart("pick", "--project", filepath.Join(dir, "p.yaml"), lot, filepath.Join(dir, "none"), "--fit-cell", "5")
	require.Equal(t, statusBadInput, text.status)
	require.Contains(t, text.stdout, "for 14 sets take")
	require.Contains(t, text.err, "none")
	twice := hidechart("pick", "--project", filepath.Join(dir, "p.yaml"), filepath.Join(lot, "A"), filepath.Join(lot, "A"), "--fit-cell", "10")
	require.Contains(t, twice.err, `hide "A" was given already`)
}

func TestPickCommandRefuses(t *testing.T) {
	chart, dir := discChart(t), t.TempDir()
	write(t, dir, "p.yaml", "project: a\nlooks: classic")
	for _, c := range []struct {
		args   []string
		status int
		text   string
	}{
		{[]string{"pick", chart}, statusUsage, "project"},
		{[]string{"pick", "--project", filepath.Join(dir, "none.yaml"), chart}, statusBadInput, "none.yaml"},
		{[]string{"pick", "--project", filepath.Join(dir, "p.yaml"), chart}, statusBadInput, `unknown key "looks"`},
		{[]string{"pick", "--project", filepath.Join(dir, "p.yaml"), chart, "--tries", "-1"}, statusUsage, "--tries"},
	} {
		o := hidechart(c.args...)
		require.Equal(t, c.status, o.status, "%v: %s", c.args, o.err)
		require.Contains(t, o.err, c.text)
	}
}

// Cut plans are written beside each other, named by hide and look; a piece larger than
// the hide is said in a clear line.
func TestYieldWritesCutPlans(t *testing.T) {
	chart, dir := discChart(t), t.TempDir()
	write(t, dir, "set.svg", `<svg xmlns="http://www.w3.org/2000/svg" width="500mm" height="500mm" viewBox="0 0 500 500">
<rect id="panel" width="400" height="400"/><rect id="sail" y="410" width="2900" height="20"/></svg>`)
	o := hidechart("yield", chart, "--pieces", filepath.Join(dir, "set.svg"), "--fit-cell", "10", "--to", "svg,dxf,geojson,sheet,tiles,projection", "--mm-per-px", "4",
		"--paper", "A3", "--out", dir)
	require.Equal(t, statusDone, o.status, o.err)
	for _, ending := range []string{".cut.svg", ".cut.mm.dxf", ".cut.geojson", ".cut.pdf", ".cut.tiles.pdf", ".cut.png"} {
		require.FileExists(t, filepath.Join(dir, "disc.classic"+ending))
		require.Contains(t, o.stdout, "disc.classic"+ending)
	}
	require.Contains(t, o.stdout, "larger than the hide: 2900 mm long")
	o = hidechart("yield", chart, "--to", "doc")
	require.Equal(t, statusUsage, o.status)
	require.Contains(t, o.err, `format "doc"`)
	o = hidechart("yield", chart, "--tries", "-2")
	require.Equal(t, statusUsage, o.status)
}
