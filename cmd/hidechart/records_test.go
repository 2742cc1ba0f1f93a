package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/spf13/cobra"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hidechart/export"
	"hidechart/pipeline"
)

// The whole way of a record on the command line: file, twice, note terms, sheet, claim, verify, check,
// export, import, backup; and what is refused.
func TestRecordsFromFilingToClaim(t *testing.T) {
	chart := discOfLot(t)
	dir := t.TempDir()
	db := filepath.Join(dir, "r.db")
	ok := func(args ...string) string {
		t.Helper()
		o := hidechart(append(args, "--record", db)...)
		require.Equal(t, statusDone, o.status, o.err)
		return o.stdout
	}
	assert.Equal(t, statusBadInput, hidechart("records", "check", "--record", db).status, "a record that is not there is not made by a look")
	assert.Contains(t, ok("records", "add", chart, "--date", "2026-03-02"), "1 filed")
	assert.Contains(t, ok("records", "add", chart), "1 known already")
	ok("records", "lot", "L1", "--price", "5", "--per", "ft2", "--currency", "EUR", "--grade", "I", "--rule", "iso-17551")
	assert.Contains(t, ok("records", "list", "lots", "--json"), `"price_per_m2": 53.8`) // 5 / 0.09290304
	ok("records", "hide", "disc", "--lot", "L1", "--cut", "front=4")
	out := ok("records", "sheet", "--month", "2026-03", "--look", "classic", "--out", filepath.Join(dir, "s"))
	assert.Contains(t, out, ".pdf")
	claim := strings.TrimSpace(ok("records", "claim", "L1", "--by", "Ada Example", "--date", "2026-08-01", "--out", dir))
	assert.Contains(t, ok("records", "verify", claim), "byte for byte the claim")
	assert.Contains(t, ok("records", "check"), "0 findings")
	ok("records", "export", filepath.Join(dir, "open"))
	ok("records", "backup", filepath.Join(dir, "copy.db"))
	o := hidechart("records", "import", filepath.Join(dir, "open"), "--record", filepath.Join(dir, "other.db"))
	require.Equal(t, statusDone, o.status, o.err)
	assert.Contains(t, hidechart("records", "verify", claim, "--record", filepath.Join(dir, "other.db")).stdout, "byte for byte")

	// a bad chart does not stop the others, and is named
	bad := filepath.Join(dir, "bad.json")
	require.NoError(t, os.WriteFile(bad, []byte("{}"), 0o600))
	o = hidechart("records", "add", bad, chart, "--record", db)
	assert.Equal(t, statusBadInput, o.status)
	assert.Contains(t, o.stdout, "1 known already")
	assert.Contains(t, o.err, "bad.json")
	// a changed claim is refused
	data, err := os.ReadFile(claim)
	require.NoError(t, err)
	changed := strings.Replace(string(data), `"probability": 0.6`, `"probability": 0.7`, 1)
	require.NotEqual(t, string(data), changed)
	require.NoError(t, os.WriteFile(bad, []byte(changed), 0o600))
	o = hidechart("records", "verify", bad, "--record", db)
	assert.Equal(t, statusBadInput, o.status)
	assert.Contains(t, o.stdout, "FAULT")
	for _, wrong := range [][]string{{"records", "add", chart, "--date", "soon"}, {"records", "list", "cows"}, {"records", "claim", "L1"}, {"records", "lot", "L1", "--price", "1", "--per", "acre"}} {
		assert.Equal(t, statusUsage, hidechart(append(wrong, "--record", db)...).status, "%v", wrong)
	}
}

// What a batch charted is filed with the review beside it; a capture that failed is not.
func TestChartFilesWhatItCharted(t *testing.T) {
	c := &cobra.Command{}
	c.SetContext(t.Context())
	db := filepath.Join(t.TempDir(), "r.db")
	sum := pipeline.Summary{Results: []pipeline.Result{{Chart: discChart(t)}, {Err: assert.AnError, Chart: "none"}}}
	require.NoError(t, fileCharts(c, db, sum))
	o := hidechart("records", "list", "hides", "--record", db)
	assert.Equal(t, 1, strings.Count(o.stdout, "\n"), o.stdout+o.err)
}

// discOfLot is the chart of the disc as a hide of a lot.
func discOfLot(t *testing.T) string {
	t.Helper()
	path := discChart(t)
	c, err := export.ReadChart(path)
	require.NoError(t, err)
	c.Capture.Supplier, c.Capture.Lot = "Moorhen Hollow (invented)", "L1"
	require.NoError(t, export.WriteChart(path, c))
	return path
}
