package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/calibrate"
)

// printed is one tag found on a rasterised page by an independent reader.
type printed struct {
	ID      int           `json:"id"`
	Corners [4][2]float64 `json:"corners"`
	Page    int           `json:"page"`
}

// dpi of the test prints: 0.127 mm a pixel.
const dpi = 200

// readPages rasterises a PDF with poppler's pdftoppm and reads the tags with
// OpenCV's aruco module (DICT_APRILTAG_36h11), which shares no code with
// libapriltag. Script: testdata/read_tags.py.
func readPages(t *testing.T, pdf string) []printed {
	t.Helper()
	stem := filepath.Join(t.TempDir(), "page")
	out, err := exec.Command("pdftoppm", "-r", fmt.Sprint(dpi), "-gray", "-png", pdf, stem).CombinedOutput()
	require.NoError(t, err, string(out))
	pages, err := filepath.Glob(stem + "*.png")
	require.NoError(t, err)
	cmd := exec.Command("/usr/bin/python3", append([]string{"testdata/read_tags.py"}, pages...)...)
	var errs bytes.Buffer
	cmd.Stderr = &errs
	found, err := cmd.Output()
	require.NoError(t, err, errs.String())
	var tags []printed
	require.NoError(t, json.Unmarshal(found, &tags))
	return tags
}

func runCommand(t *testing.T, args ...string) error {
	t.Helper()
	cmd := newRig()
	cmd.SetArgs(args)
	cmd.SilenceErrors, cmd.SilenceUsage = true, true
	return cmd.Execute()
}

// A page printed and scanned again gives back its ids, sizes, turn and, on a
// strip, the distance of neighbours. A corner is good to about half a pixel,
// 0.06 mm; an edge has two.
func TestSheetDecodes(t *testing.T) {
	for _, c := range []struct {
		name  string
		args  []string
		edge  float64
		ids   []int
		pages int
	}{
		{"A4 single", []string{"--ids", "0,7,42,586", "--edge-mm", "100"}, 100, []int{0, 7, 42, 586}, 4},
		{"A3 single", []string{"--ids", "3", "--edge-mm", "200", "--paper", "a3"}, 200, []int{3}, 1},
		{"A4 strip", []string{"--ids", "10-14", "--strip", "--edge-mm", "80"}, 80, []int{10, 11, 12, 13, 14}, 3},
		{"A3 strip", []string{"--ids", "20-22", "--strip", "--paper", "A3"}, 100, []int{20, 21, 22}, 1},
		{"smallest", []string{"--ids", "1", "--edge-mm", "20"}, 20, []int{1}, 1},
	} {
		t.Run(c.name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "tags.pdf")
			require.NoError(t, runCommand(t, append([]string{"sheet", "--out", path}, c.args...)...))
			tags := readPages(t, path)
			require.Len(t, tags, len(c.ids))
			for i, tag := range tags {
				require.Equal(t, c.ids[i], tag.ID)
				checkPrinted(t, tag, c.edge)
			}
			require.Equal(t, c.pages-1, tags[len(tags)-1].Page)
		})
	}
}

// checkPrinted wants an upright square of the right size. OpenCV's dictionary
// holds the patterns turned by 180°, so that the first corner of a tag upright
// by libapriltag is at the lower right and the second at the lower left.
func checkPrinted(t *testing.T, tag printed, edgeMM float64) {
	t.Helper()
	for k := range 4 {
		a, b := tag.Corners[k], tag.Corners[(k+1)%4]
		mm := math.Hypot(a[0]-b[0], a[1]-b[1]) * 25.4 / dpi
		require.InDelta(t, edgeMM, mm, 0.15, "tag %d side %d", tag.ID, k)
	}
	require.InDelta(t, tag.Corners[0][0]-edgeMM/25.4*dpi, tag.Corners[1][0], 1.5)
	require.InDelta(t, tag.Corners[0][1]-edgeMM/25.4*dpi, tag.Corners[3][1], 1.5)
}

// A strip's centres lie the printed distance apart.
func TestStripPitch(t *testing.T) {
	path := filepath.Join(t.TempDir(), "tags.pdf")
	require.NoError(t, runCommand(t, "sheet", "--out", path, "--ids", "0-2", "--strip", "--paper", "A3"))
	tags := readPages(t, path)
	require.Len(t, tags, 3)
	for i := range 2 {
		a, b := tags[i].centre(), tags[i+1].centre()
		require.InDelta(t, 0, a[0]-b[0], 0.5)
		require.InDelta(t, 133, (b[1]-a[1])*25.4/dpi, 0.1) // 100 + 2·12.5 + 8, as printed on the page
	}
}

func (p printed) centre() [2]float64 {
	var c [2]float64
	for _, q := range p.Corners {
		c[0] += q[0] / 4
		c[1] += q[1] / 4
	}
	return c
}

// The same sheet is the same bytes.
func TestSheetIsDeterministic(t *testing.T) {
	var pages [2][]byte
	for i := range pages {
		path := filepath.Join(t.TempDir(), "tags.pdf")
		require.NoError(t, runCommand(t, "sheet", "--out", path, "--ids", "0-3"))
		var err error
		pages[i], err = os.ReadFile(path)
		require.NoError(t, err)
	}
	require.True(t, bytes.Equal(pages[0], pages[1]))
}

func TestSheetRefuses(t *testing.T) {
	path := filepath.Join(t.TempDir(), "tags.pdf")
	for _, args := range [][]string{
		{"--ids", "587"}, {"--ids", "3-1"}, {"--ids", "a"}, {"--ids", "1,1"}, {"--ids", "0-99999"}, {"--paper", "A5"},
		{"--edge-mm", "10"}, {"--edge-mm", "NaN"}, {"--edge-mm", "170"}, {"--edge-mm", "120", "--strip"},
	} {
		require.Error(t, runCommand(t, append([]string{"sheet", "--out", path}, args...)...), args)
		require.NoFileExists(t, path)
	}
}

// Olson 2011: the family's ids run from 0 to 586.
func TestTagCount(t *testing.T) { require.Equal(t, 587, calibrate.TagCount()) }
