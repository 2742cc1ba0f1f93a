package export

import (
	"encoding/csv"
	"os"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hidechart/hide"
)

// Against encoding/csv and Python's csv module: both read the same table, and
// no text would run as a formula.
func TestCSVIsReadByGoAndPython(t *testing.T) {
	for _, name := range hostileNames() {
		c := sampleChart(name)
		path := written(t, "a.csv", c, WriteCSV)
		raw, err := os.ReadFile(path)
		require.NoError(t, err)
		assert.Equal(t, strings.Count(string(raw), "\n"), strings.Count(string(raw), "\r\n"), "every line ends in CRLF (RFC 4180, 2.1)")
		rows, err := csv.NewReader(strings.NewReader(string(raw))).ReadAll()
		require.NoError(t, err)
		var byPython [][]string
		python(t, &byPython, "read_csv.py", path)
		for _, row := range byPython {
			for i := range row {
				row[i] = strings.ReplaceAll(row[i], "\r\n", "\n") // Go's reader folds them in quoted fields
			}
		}
		require.Equal(t, rows, byPython, "%q", name)
		require.Len(t, rows, 1+len(c.Defects))
		for i, row := range rows[1:] {
			assertCSVRow(t, c, c.Defects[i], row)
		}
	}
}

func assertCSVRow(t *testing.T, c hide.Chart, d hide.Defect, row []string) {
	t.Helper()
	want := strings.NewReplacer("\r\n", "\n", "\r", "\n").Replace(c.Capture.ID)
	assert.Equal(t, want, strings.TrimPrefix(row[0], "'"))
	for _, cell := range []string{row[0], row[1], row[2], row[3], row[18]} {
		assert.False(t, strings.HasPrefix(cell, "=") || strings.HasPrefix(cell, "+") || strings.HasPrefix(cell, "-") ||
			strings.HasPrefix(cell, "@") || strings.HasPrefix(cell, "\t") || strings.HasPrefix(cell, "\n"), "%q", cell)
	}
	assert.Equal(t, strconv.Itoa(d.ID), row[4])
	assert.Equal(t, string(d.Kind), row[5])
	area, err := strconv.ParseFloat(row[10], 64)
	require.NoError(t, err)
	assert.InDelta(t, float64(d.Area), area, 0.0005, "three decimals")
	assert.Equal(t, "top rake-e", row[17])
}
