package scene_test

import (
	"bytes"
	"context"
	"encoding/json"
	"image"
	"image/jpeg"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"runtime"
	"testing"

	"github.com/stretchr/testify/require"
	"gopkg.in/yaml.v3"

	"hidechart/hide"
	"hidechart/scene"
)

// small is a capture small enough for a test.
func small(seed int64) scene.Spec {
	return scene.Spec{Seed: seed, WidthPX: 1200, Lights: []hide.Light{hide.Top, hide.RakeE, hide.Back, hide.Empty}}
}

func rendered(t *testing.T, spec scene.Spec) map[string][]byte {
	t.Helper()
	dir := t.TempDir()
	require.NoError(t, scene.Render(context.Background(), spec, dir))
	entries, err := os.ReadDir(dir)
	require.NoError(t, err)
	out := map[string][]byte{}
	for _, e := range entries {
		data, err := os.ReadFile(filepath.Join(dir, e.Name()))
		require.NoError(t, err)
		out[e.Name()] = data
	}
	return out
}

// Same seed, same bytes, whatever the number of cores (issue 2).
func TestSameBytesAtAnyGOMAXPROCS(t *testing.T) {
	before := runtime.GOMAXPROCS(1)
	defer runtime.GOMAXPROCS(before)
	one := rendered(t, small(7))
	runtime.GOMAXPROCS(2)
	two := rendered(t, small(7))
	require.Len(t, one, 9)
	for name, data := range one {
		require.Equal(t, data, two[name], name)
	}
}

func TestSeedsDiffer(t *testing.T) {
	a, b := rendered(t, small(8)), rendered(t, small(9))
	for name := range a {
		require.NotEqual(t, a[name], b[name], name)
	}
}

// truth is what the tests read of truth.json.
type truth struct {
	Area        float64      `json:"area_mm2"`
	OutlineArea float64      `json:"outline_area_mm2"`
	HoleArea    float64      `json:"hole_area_mm2"`
	Kinds       []hide.Kind  `json:"kinds"`
	Outline     []hide.Point `json:"outline_mm"`
	Neck        hide.Point   `json:"neck_mm"`
	Tail        hide.Point   `json:"tail_mm"`
	Table       [2]float64   `json:"table_mm"`
	Defects     []struct {
		ID   int        `json:"id"`
		Kind hide.Kind  `json:"kind"`
		Area float64    `json:"area_mm2"`
		Box  [4]float64 `json:"bbox_mm"`
	} `json:"defects"`
}

func truthOf(t *testing.T, files map[string][]byte) truth {
	t.Helper()
	var out truth
	require.NoError(t, json.Unmarshal(files["truth.json"], &out))
	return out
}

func labelOf(t *testing.T, files map[string][]byte) *image.Gray {
	t.Helper()
	im, err := png.Decode(bytes.NewReader(files["truth_label.png"]))
	require.NoError(t, err)
	return im.(*image.Gray)
}

// The truth's numbers, its polygon and its raster must tell the same: the
// raster counts pixel centres, whose error for a curve is below a twentieth
// of a pixel times its length for any but a contrived one (here 25 mm²/m).
func TestTruthAreaEqualsLabelArea(t *testing.T) {
	files := rendered(t, small(11))
	tr, label := truthOf(t, files), labelOf(t, files)
	on, hole, byKind := 0.0, 0.0, map[uint8]float64{}
	for _, v := range label.Pix {
		if v != 255 {
			on += .25
			byKind[v] += .25
		}
		if v != 255 && v > 0 && tr.Kinds[v-1] == hide.Hole {
			hole += .25
		}
	}
	outline := hide.Ring(tr.Outline)
	tolerance := .025 * float64(outline.Length())
	require.InDelta(t, tr.OutlineArea, on, tolerance)
	require.InDelta(t, float64(outline.SignedArea()), tr.OutlineArea, 1e-3)
	require.InDelta(t, tr.OutlineArea-tr.HoleArea, tr.Area, 1e-6)
	require.InDelta(t, tr.HoleArea, hole, .1*tr.HoleArea+1)
	sum := map[hide.Kind]float64{}
	for _, d := range tr.Defects {
		sum[d.Kind] += d.Area
	}
	for k, kind := range tr.Kinds {
		require.InDelta(t, sum[kind], byKind[uint8(k+1)], 1e-6, kind)
	}
}

// The contour in the photograph lies where camera.json puts the truth
// outline: checked through the tags, whose black squares must be dark and
// whose paper must be bright at the projected places (projection as in
// OpenCV's calib3d documentation, written here a second time).
func TestTagsAreWhereTheCameraSays(t *testing.T) {
	spec := small(12)
	spec.NoLookAlikes = true
	files := rendered(t, spec)
	var rig struct {
		Table struct {
			Height float64 `yaml:"height_mm"`
		} `yaml:"table"`
		Tags struct {
			Edge    float64            `yaml:"edge_mm"`
			Centres map[int][2]float64 `yaml:"centres_mm"`
		} `yaml:"tags"`
	}
	require.NoError(t, yaml.Unmarshal(files["rig.yaml"], &rig))
	im, err := jpeg.Decode(bytes.NewReader(files["empty.jpg"]))
	require.NoError(t, err)
	cam := cameraOf(t, files["camera.json"])
	cell := rig.Tags.Edge / 8
	grey := func(x, y float64) float64 {
		px, py := cam.project(x, rig.Table.Height-y)
		r, g, b, _ := im.At(int(math.Round(px)), int(math.Round(py))).RGBA()
		return float64(r+g+b) / 3 / 257
	}
	require.GreaterOrEqual(t, len(rig.Tags.Centres), 8)
	for id, c := range rig.Tags.Centres {
		for _, k := range []float64{-1, 1} { // middles of the black ring and of the paper's rim
			require.Greater(t, grey(c[0]+k*4.5*cell, c[1])-grey(c[0]+k*3.5*cell, c[1]), 40.0, "tag %d", id)
			require.Greater(t, grey(c[0], c[1]+k*4.5*cell)-grey(c[0], c[1]+k*3.5*cell), 40.0, "tag %d", id)
		}
	}
}

type testCamera struct {
	K    [3][3]float64 `json:"K"`
	D    [5]float64    `json:"D"`
	R    [3][3]float64 `json:"R"`
	T    [3]float64    `json:"t"`
	Size [2]int        `json:"size"`
}

func cameraOf(t *testing.T, data []byte) testCamera {
	t.Helper()
	var c testCamera
	require.NoError(t, json.Unmarshal(data, &c))
	return c
}

func (c testCamera) project(x, y float64) (u, v float64) {
	var p [3]float64
	for i := range p {
		p[i] = c.R[i][0]*x + c.R[i][1]*y + c.T[i]
	}
	a, b := p[0]/p[2], p[1]/p[2]
	q := a*a + b*b
	k := 1 + c.D[0]*q + c.D[1]*q*q
	return c.K[0][0]*(a*k+2*c.D[2]*a*b+c.D[3]*(q+2*a*a)) + c.K[0][2],
		c.K[1][1]*(b*k+c.D[2]*(q+2*b*b)+2*c.D[3]*a*b) + c.K[1][2]
}

func TestBadSpecs(t *testing.T) {
	for _, s := range []scene.Spec{
		{WidthPX: 10}, {Table: "green"}, {Article: "cardboard"}, {Contrast: -1}, {Lights: []hide.Light{"moon"}},
	} {
		require.ErrorIs(t, scene.Render(context.Background(), s, t.TempDir()), hide.Invalid)
	}
}

// A cancelled render leaves nothing, not even a part.
func TestCancelLeavesNothing(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	dir := t.TempDir()
	require.ErrorIs(t, scene.Render(ctx, small(1), dir), context.Canceled)
	entries, err := os.ReadDir(dir)
	require.NoError(t, err)
	require.Empty(t, entries)
}

// At least ten articles, and a lot of three for the demo.
func TestArticlesAndDemoLot(t *testing.T) {
	require.GreaterOrEqual(t, len(scene.Articles()), 10)
	require.Len(t, scene.DemoLot(), 3)
	for _, s := range scene.DemoLot() {
		require.NoError(t, s.Validate())
	}
}
