package main

import (
	"bytes"
	"fmt"
	"hash/crc32"
	"image"
	"image/draw"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/export"
	"hidechart/hide"
)

// badCase spoils a copy of a good capture.
type badCase struct {
	name   string
	files  []string // of the good capture to start from, beside rig.yaml; nil: top.jpg
	spoil  func(t *testing.T, good, dir string)
	status int
	says   string // pattern of the line: what is wrong and what to do
}

// Each bad capture ends with its status and one line that says what to do, leaves
// nothing under a final name, and the good capture of the batch is charted.
func TestBadInput(t *testing.T) {
	good := render(t, filepath.Join(t.TempDir(), "good"), 9, hide.Top, hide.Back, hide.Empty)
	charts := filepath.Join(t.TempDir(), "good charts")
	first := hidechart("chart", good, "--out", charts)
	require.Equal(t, statusDone, first.status, first.err)
	for _, c := range badCases() {
		t.Run(c.name, func(t *testing.T) {
			files := c.files
			if files == nil {
				files = []string{"top.jpg"}
			}
			dir := copyOf(t, good, files...)
			c.spoil(t, good, dir)
			out := t.TempDir()
			// the good chart is there already, so that each case costs one capture
			require.NoError(t, os.CopyFS(out, os.DirFS(charts)))
			o := hidechart("chart", dir, good, "--out", out)
			line := o.reason(t, dir)
			t.Log(line)
			require.Equal(t, c.status, o.status, line)
			require.Regexp(t, c.says, line)
			require.NotContains(t, line, "unmarshal")
			requireOnly(t, out, "S9")
			require.Contains(t, o.stdout, "S9")
		})
	}
}

// requireOnly fails unless the folder holds whole charts of the given ids and
// nothing else.
func requireOnly(t *testing.T, out string, ids ...string) {
	t.Helper()
	entries, err := os.ReadDir(out)
	require.NoError(t, err)
	var names []string
	for _, e := range entries {
		names = append(names, e.Name())
	}
	require.ElementsMatch(t, ids, names)
	for _, id := range ids {
		requireWhole(t, filepath.Join(out, id))
	}
}

// requireWhole fails unless a folder holds a chart and all its files.
func requireWhole(t *testing.T, dir string) {
	t.Helper()
	c, err := export.ReadChart(filepath.Join(dir, "chart.json"))
	require.NoError(t, err)
	for _, f := range export.Formats() {
		info, err := os.Stat(filepath.Join(dir, f.FileName(c.Capture.ID)))
		require.NoError(t, err)
		require.NotZero(t, info.Size(), f.Name)
	}
	entries, err := os.ReadDir(dir)
	require.NoError(t, err)
	lights, err := export.ReadLights(dir)
	require.NoError(t, err)
	// the formats, the chart, the lights as they lie on the table and their list
	require.Len(t, entries, len(export.Formats())+2+len(lights.Pictures))
}

func badCases() []badCase {
	return append(badFiles(), badTables()...)
}

func badFiles() []badCase {
	return []badCase{
		{"not an image", nil, func(t *testing.T, _, dir string) { write(t, dir, "top.jpg", "a shopping list") },
			statusBadInput, `top\.jpg: not a JPEG, PNG or TIFF`},
		{"an empty file", nil, func(t *testing.T, _, dir string) { write(t, dir, "top.jpg", "") },
			statusBadInput, `top\.jpg: the file is empty`},
		{"cut off in the middle", nil, func(t *testing.T, _, dir string) {
			data, err := os.ReadFile(filepath.Join(dir, "top.jpg"))
			require.NoError(t, err)
			write(t, dir, "top.jpg", string(data[:len(data)/2]))
		}, statusBadInput, `top\.jpg: .*(cut|ends|whole)`},
		{"decompression bomb", nil, func(t *testing.T, _, dir string) {
			require.NoError(t, os.Remove(filepath.Join(dir, "top.jpg")))
			write(t, dir, "top.png", string(pngHeader(60000, 60000)))
		}, statusBadInput, `top\.png .*60000 x 60000 px.*400 megapixels.*max_pixels`},
		{"without top", []string{"back.jpg"}, func(*testing.T, string, string) {}, statusBadInput, `no top light in .*: add top\.jpg`},
		{"lights of different size", []string{"top.jpg", "back.jpg"}, func(t *testing.T, _, dir string) {
			im := photo(t, dir, "back.jpg")
			save(t, im.SubImage(image.Rect(0, 0, im.Rect.Dx()-10, im.Rect.Dy())), dir, "back.jpg")
		}, statusBadInput, `light back \(back\.jpg\) is 1490 x 1000 px but top is 1500 x 1000 px: take all lights`},
		{"a light twice", []string{"top.jpg"}, func(t *testing.T, _, dir string) { write(t, dir, "top.png", "x") },
			statusBadInput, `light top is there twice, as top\.jpg and top\.png: keep one`},
		{"tiles beside the whole", nil, func(t *testing.T, _, dir string) { write(t, dir, "top.1.jpg", "x") },
			statusBadInput, `one photograph, top\.jpg, and in tiles, top\.1\.jpg: keep one`},
		{"unknown key in the rig", nil, func(t *testing.T, _, dir string) { appendTo(t, dir, "rig.yaml", "colour: black\n") },
			statusBadInput, `rig\.yaml: line \d+: unknown key "colour"`},
		{"unknown key in the capture file", nil, func(t *testing.T, _, dir string) { write(t, dir, "capture.yaml", "suplier: A\n") },
			statusBadInput, `capture\.yaml: line 1: unknown key "suplier"`},
		{"no rig", nil, func(t *testing.T, _, dir string) { require.NoError(t, os.Remove(filepath.Join(dir, "rig.yaml"))) },
			statusBadInput, `no rig file .*--rig`},
		{"lens file missing", nil, func(t *testing.T, _, dir string) { appendTo(t, dir, "rig.yaml", "lens: lens.yaml\n") },
			statusBadInput, `no lens file .*rig file names it`},
		{"a file in place of the folder", nil, func(t *testing.T, _, dir string) {
			require.NoError(t, os.RemoveAll(dir))
			require.NoError(t, os.WriteFile(dir, nil, 0o644))
		}, statusBadInput, `cannot read the capture folder .*: not a directory`},
		{"a dangling link in place of the folder", nil, func(t *testing.T, _, dir string) {
			require.NoError(t, os.RemoveAll(dir))
			require.NoError(t, os.Symlink("nowhere", dir))
		}, statusBadInput, `cannot read the capture folder .*: no such file`},
		{"a dangling link in place of a photograph", nil, func(t *testing.T, _, dir string) {
			require.NoError(t, os.Remove(filepath.Join(dir, "top.jpg")))
			require.NoError(t, os.Symlink("nowhere", filepath.Join(dir, "top.jpg")))
		}, statusBadInput, `cannot read .*top\.jpg: no such file`},
	}
}

func badTables() []badCase {
	return []badCase{
		{"no tags", nil, func(t *testing.T, _, dir string) {
			im := photo(t, dir, "top.jpg")
			paintOut(im, tagsSeen(t, dir, "top.jpg"))
			save(t, im, dir, "top.jpg")
		}, statusNotMeasurable, `no tag`},
		{"fewer than four tags", nil, func(t *testing.T, _, dir string) {
			im := photo(t, dir, "top.jpg")
			paintOut(im, tagsSeen(t, dir, "top.jpg")[3:])
			save(t, im, dir, "top.jpg")
		}, statusNotMeasurable, `(?i)(3|three).*(4|four)`},
		{"ids not in the rig", nil, func(t *testing.T, _, dir string) {
			renumber(t, dir, 200)
		}, statusNotMeasurable, `rig`},
		{"tags that contradict the rig", nil, func(t *testing.T, _, dir string) { shiftHalf(t, dir, 60) },
			statusNotMeasurable, `tag.*\d+.*\d mm`},
		{"no hide", nil, func(t *testing.T, good, dir string) { save(t, photo(t, good, "empty.jpg"), dir, "top.jpg") },
			statusNotMeasurable, `no hide found`},
		{"two hides", nil, func(t *testing.T, good, dir string) {
			im, bare := photo(t, dir, "top.jpg"), photo(t, good, "empty.jpg")
			middle := image.Rect(im.Rect.Dx()*47/100, 0, im.Rect.Dx()*53/100, im.Rect.Dy())
			draw.Draw(im, middle, bare, middle.Min, draw.Src)
			save(t, im, dir, "top.jpg")
		}, statusNotMeasurable, `two hides .*one at a time`},
		{"hide cut off by the frame", nil, func(t *testing.T, good, dir string) {
			// the same photograph from a camera whose sensor ends earlier: the
			// middle is kept, so that the lens stays the same
			im := photo(t, dir, "top.jpg")
			cut := im.Rect.Dy() * 22 / 100
			part := im.SubImage(image.Rect(0, cut, im.Rect.Dx(), im.Rect.Dy()-cut)).(*image.RGBA)
			save(t, part, dir, "top.jpg")
		}, statusNotMeasurable, `cut off by the photograph's frame.*(step back|move)`},
	}
}

func appendTo(t *testing.T, dir, name, text string) {
	t.Helper()
	data, err := os.ReadFile(filepath.Join(dir, name))
	require.NoError(t, err)
	write(t, dir, name, string(data)+text)
}

var centreLine = regexp.MustCompile(`(?m)^    (\d+): \[([0-9.]+), ([0-9.]+)\]$`)

// editCentres rewrites the tags' ids and centres in a rig file.
func editCentres(t *testing.T, dir string, edit func(i, id int, x, y float64) (int, float64, float64)) {
	t.Helper()
	data, err := os.ReadFile(filepath.Join(dir, "rig.yaml"))
	require.NoError(t, err)
	i := 0
	text := centreLine.ReplaceAllStringFunc(string(data), func(line string) string {
		var id int
		var x, y float64
		_, err := fmt.Sscanf(strings.TrimSpace(line), "%d: [%f, %f]", &id, &x, &y)
		require.NoError(t, err)
		id, x, y = edit(i, id, x, y)
		i++
		return fmt.Sprintf("    %d: [%.1f, %.1f]", id, x, y)
	})
	require.Greater(t, i, 4)
	write(t, dir, "rig.yaml", text)
}

func renumber(t *testing.T, dir string, by int) {
	editCentres(t, dir, func(_, id int, x, y float64) (int, float64, float64) { return id + by, x, y })
}

// shiftHalf moves every other tag in the rig file, each another way.
func shiftHalf(t *testing.T, dir string, mm float64) {
	editCentres(t, dir, func(i, id int, x, y float64) (int, float64, float64) {
		if i%2 == 0 {
			x, y = x+mm*math.Cos(float64(i)), y+mm*math.Sin(float64(i))
		}
		return id, x, y
	})
}

// pngHeader is a PNG that claims a size and ends (ISO/IEC 15948, 11.2.2).
func pngHeader(w, h uint32) []byte {
	b := bytes.NewBufferString("\x89PNG\r\n\x1a\n")
	ihdr := []byte{'I', 'H', 'D', 'R', byte(w >> 24), byte(w >> 16), byte(w >> 8), byte(w), byte(h >> 24), byte(h >> 16), byte(h >> 8), byte(h), 8, 2, 0, 0, 0}
	b.Write([]byte{0, 0, 0, 13})
	b.Write(ihdr)
	sum := crc32.ChecksumIEEE(ihdr)
	b.Write([]byte{byte(sum >> 24), byte(sum >> 16), byte(sum >> 8), byte(sum)})
	return b.Bytes()
}
