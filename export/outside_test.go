package export

import (
	"bytes"
	"encoding/json"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/hide"
)

// outside runs a program of Debian 12 that reads our files, and returns what it printed.
func outside(t *testing.T, name string, args ...string) []byte {
	t.Helper()
	path, err := exec.LookPath(name)
	require.NoError(t, err, "install it with scripts/install.sh")
	cmd := exec.CommandContext(t.Context(), path, args...)
	var stderr bytes.Buffer
	cmd.Stderr = &stderr
	out, err := cmd.Output()
	require.NoError(t, err, "%s: %s", name, stderr.String())
	return out
}

// python runs a script of testdata with Debian's own Python.
func python(t *testing.T, into any, script string, args ...string) {
	t.Helper()
	out := outside(t, "/usr/bin/python3", append([]string{filepath.Join("testdata", script)}, args...)...)
	require.NoError(t, json.Unmarshal(out, into))
}

// written writes a format to a file of the test.
func written(t *testing.T, name string, c hide.Chart, write func(io.Writer, hide.Chart) error) string {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, write(&b, c))
	path := filepath.Join(t.TempDir(), name)
	require.NoError(t, os.WriteFile(path, b.Bytes(), 0o600))
	return path
}

// ogrAreas asks gdal's ogrinfo for the area of every polygon and a column that
// tells them apart.
func ogrAreas(t *testing.T, path, sql, column string) map[string][]float64 {
	t.Helper()
	out := outside(t, "ogrinfo", "--config", "DXF_CLOSED_LINE_AS_POLYGON", "YES", "-q", path, "-sql", sql)
	row := regexp.MustCompile(`(?m)^  ` + column + ` \(String\) = (.*)\n  OGR_GEOM_AREA \(Real\) = (\S+)$`)
	areas := map[string][]float64{}
	for _, m := range row.FindAllStringSubmatch(string(out), -1) {
		a, err := strconv.ParseFloat(m[2], 64)
		require.NoError(t, err)
		areas[m[1]] = append(areas[m[1]], a)
	}
	return areas
}
