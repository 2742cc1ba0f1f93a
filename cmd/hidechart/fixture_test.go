package main

import (
	"bytes"
	"context"
	"image"
	"image/color"
	"image/draw"
	"image/jpeg"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/calibrate"
	"hidechart/hide"
	"hidechart/pix"
	"hidechart/scene"
)

// outcome of a command line.
type outcome struct {
	status      int
	stdout, err string
}

// hidechart runs a command line in this process.
func hidechart(args ...string) outcome {
	var stdout, stderr bytes.Buffer
	status := run(context.Background(), args, &stdout, &stderr)
	return outcome{status, stdout.String(), stderr.String()}
}

// reason is the line that says why a capture gave no chart.
func (o outcome) reason(t *testing.T, dir string) string {
	t.Helper()
	var found []string
	for _, line := range strings.Split(o.err, "\n") {
		if text, ok := strings.CutPrefix(line, "  "+dir+": "); ok {
			found = append(found, text)
		}
	}
	require.Len(t, found, 1, "one line a failure in:\n%s", o.err)
	return found[0]
}

// render makes a small capture: 1500 px across, a tag's cell is five pixels.
func render(t *testing.T, dir string, seed int64, lights ...hide.Light) string {
	t.Helper()
	whole := false
	require.NoError(t, scene.Render(context.Background(), scene.Spec{Seed: seed, WidthPX: 1500, Lights: lights, Side: &whole}, dir))
	return dir
}

// copyOf copies the rig and the given files of a capture into a new folder.
func copyOf(t *testing.T, capture string, files ...string) string {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "hide")
	require.NoError(t, os.Mkdir(dir, 0o755))
	for _, f := range append(files, "rig.yaml") {
		data, err := os.ReadFile(filepath.Join(capture, f))
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(filepath.Join(dir, f), data, 0o644))
	}
	return dir
}

func write(t *testing.T, dir, name, text string) {
	t.Helper()
	require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644))
}

// photo opens a JPEG for painting.
func photo(t *testing.T, dir, name string) *image.RGBA {
	t.Helper()
	f, err := os.Open(filepath.Join(dir, name))
	require.NoError(t, err)
	defer f.Close()
	im, err := jpeg.Decode(f)
	require.NoError(t, err)
	out := image.NewRGBA(im.Bounds())
	draw.Draw(out, out.Bounds(), im, im.Bounds().Min, draw.Src)
	return out
}

func save(t *testing.T, im image.Image, dir, name string) {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, jpeg.Encode(&b, im, &jpeg.Options{Quality: 95}))
	require.NoError(t, os.WriteFile(filepath.Join(dir, name), b.Bytes(), 0o644))
}

// tagsSeen finds the tags of a capture's photograph.
func tagsSeen(t *testing.T, dir, name string) []calibrate.Sighting {
	t.Helper()
	sc := pix.NewScope()
	defer sc.Close()
	data, err := os.ReadFile(filepath.Join(dir, name))
	require.NoError(t, err)
	im, err := pix.Decode(data, pix.DefaultLimits())
	require.NoError(t, err)
	lin, err := pix.Linear(sc.Keep(im))
	require.NoError(t, err)
	grey, err := pix.Grey(sc.Keep(lin))
	require.NoError(t, err)
	text, err := os.ReadFile(filepath.Join(dir, "rig.yaml"))
	require.NoError(t, err)
	rig, err := calibrate.ParseRig(text)
	require.NoError(t, err)
	seen, err := calibrate.FindTags(sc.Keep(grey), rig)
	require.NoError(t, err)
	return seen
}

// paintOut covers tags with grey.
func paintOut(im *image.RGBA, tags []calibrate.Sighting) {
	for _, s := range tags {
		c := s.Corners
		x, y := int(c[0].X+c[2].X)/2, int(c[0].Y+c[2].Y)/2
		r := int(math.Hypot(float64(c[0].X-c[2].X), float64(c[0].Y-c[2].Y))) // the white ring too
		draw.Draw(im, image.Rect(x-r, y-r, x+r, y+r), image.NewUniform(color.Gray{128}), image.Point{}, draw.Src)
	}
}
