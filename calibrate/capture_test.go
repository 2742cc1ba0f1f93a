package calibrate

import (
	"encoding/json"
	"image"
	"math"
	"os"
	"path/filepath"
	"runtime"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hidechart/hide"
	"hidechart/pix"
)

// capturesDir holds photographs rendered by a program independent of this
// project, with the camera that rendered them.
const capturesDir = "../../shared/captures"

func captureNames() []string {
	return []string{"whole-glazed", "whole-wetblue", "side-rustic", "phone-top-only"}
}

func captureFile(t testing.TB, name, file string) []byte {
	t.Helper()
	if _, err := os.Stat(capturesDir); err != nil {
		if os.Getenv("CI") != "" {
			t.Fatalf("CI must have the shared captures: %v", err)
		}
		t.Skipf("SKIPPED: no shared captures at %s: accuracy is not checked", capturesDir)
	}
	data, err := os.ReadFile(filepath.Join(capturesDir, name, file))
	require.NoError(t, err)
	return data
}

func captureRig(t testing.TB, name string) Rig {
	t.Helper()
	rig, err := ParseRig(captureFile(t, name, "rig.yaml"))
	require.NoError(t, err)
	return rig
}

func linearGrey(t testing.TB, data []byte) *pix.Image {
	t.Helper()
	sc := pix.NewScope()
	defer sc.Close()
	im, err := pix.Decode(data, pix.DefaultLimits())
	require.NoError(t, err)
	lin, err := pix.Linear(sc.Keep(im))
	require.NoError(t, err)
	grey, err := pix.Grey(sc.Keep(lin))
	require.NoError(t, err)
	t.Cleanup(grey.Close)
	return grey
}

// trueView reads camera.json, whose table frame has y down from the far edge.
func trueView(t testing.TB, name string, rig Rig) View {
	t.Helper()
	var c struct {
		K    [3][3]float64 `json:"K"`
		D    [5]float64    `json:"D"`
		R    [3][3]float64 `json:"R"`
		T    [3]float64    `json:"t"`
		Size [2]int        `json:"size"`
	}
	require.NoError(t, json.Unmarshal(captureFile(t, name, "camera.json"), &c))
	v := View{Camera: Camera{FX: c.K[0][0], FY: c.K[1][1], CX: c.K[0][2], CY: c.K[1][2],
		K1: c.D[0], K2: c.D[1], P1: c.D[2], P2: c.D[3], K3: c.D[4], Width: c.Size[0], Height: c.Size[1]}}
	for i := range 3 {
		v.R[3*i], v.R[3*i+1], v.R[3*i+2] = c.R[i][0], -c.R[i][1], -c.R[i][2]
		v.T[i] = c.T[i] + c.R[i][1]*float64(rig.Height)
	}
	return v
}

// planeError maps a grid over a part of the table through the true camera and
// back through the fitted one: mean and largest distance, mm, and the relative
// error of the part's area.
func planeError(truth, got View, x0, y0, x1, y1 float64) (mean, worst, area float64) {
	const n = 24
	at := func(i, k int) hide.Point {
		x, y := x0+(x1-x0)*float64(i)/n, y0+(y1-y0)*float64(k)/n
		return got.Ground(truth.Project(hide.MM(x), hide.MM(y), 0), 0)
	}
	var ring hide.Ring
	for i := range n + 1 {
		for k := range n + 1 {
			x, y := x0+(x1-x0)*float64(i)/n, y0+(y1-y0)*float64(k)/n
			p := at(i, k)
			d := math.Hypot(float64(p.X)-x, float64(p.Y)-y)
			mean, worst = mean+d/((n+1)*(n+1)), max(worst, d)
		}
	}
	for i := range n {
		ring = append(ring, at(i, 0))
	}
	for i := range n {
		ring = append(ring, at(n, i))
	}
	for i := range n {
		ring = append(ring, at(n-i, n))
	}
	for i := range n {
		ring = append(ring, at(0, n-i))
	}
	return mean, worst, float64(ring.SignedArea())/((x1-x0)*(y1-y0)) - 1
}

func sizeOf(im *pix.Image) image.Point { return image.Pt(im.Width(), im.Height()) }

// The fit against the camera that rendered the photographs: mean 0.1 mm and at
// most 0.3 mm inside the tags, a fifth and half of a pixel.
func TestCapturesAgainstTheirCamera(t *testing.T) {
	for _, name := range captureNames() {
		rig := captureRig(t, name)
		lights := []string{"top"}
		if name == "whole-wetblue" { // one capture under every light
			lights = []string{"top", "empty", "rake-e", "rake-n", "back"}
		}
		for _, light := range lights {
			grey := linearGrey(t, captureFile(t, name, light+".jpg"))
			began := time.Now()
			seen, err := FindTags(grey, rig)
			require.NoError(t, err)
			found := time.Since(began)
			began = time.Now()
			view, fit, err := Solve(rig, sizeOf(grey), seen, nil, DefaultParams())
			solved := time.Since(began)
			require.NoError(t, err, "%s %s", name, light)
			truth := trueView(t, name, rig)
			mean, worst, area := planeError(truth, view, 90, 90, 3210, 2510)
			var bias, rms, n float64
			var blur float64
			for _, s := range seen {
				blur += float64(s.Blur) / float64(len(seen))
				var out [4]float64
				for k, q := range rig.Corners(s.ID) {
					p, c := truth.Project(q.X, q.Y, 0), rig.Centres[s.ID]
					m := truth.Project(c.X, c.Y, 0)
					ex, ey := float64(s.Corners[k].X-p.X), float64(s.Corners[k].Y-p.Y)
					l := math.Hypot(float64(p.X-m.X), float64(p.Y-m.Y))
					out[k] = (ex*float64(p.X-m.X) + ey*float64(p.Y-m.Y)) / l
					bias, rms, n = bias+out[k], rms+ex*ex+ey*ey, n+1
				}
			}
			t.Logf("%s %s: %d tags, corners outward %+.3f px, rms %.3f px, blur %.2f; fit rms %.3f px, plane mean %.3f worst %.3f mm, area %+.4f %% ± %.4f %%, scaleU %.5f%% lensU %.5f%%, tagU %.3f mm print %.5f noise %.2f f %.0f/%.0f h %.0f/%.0f tags %v solve %v flags %v",
				name, light, len(seen), bias/n, math.Sqrt(rms/n), blur, fit.RMSPX, mean, worst, 100*area, 100*fit.AreaU(hide.Polygon{Outer: hide.Ring{{X: 90, Y: 90}, {X: 3210, Y: 90}, {X: 3210, Y: 2510}, {X: 90, Y: 2510}}}), 100*fit.ScaleU, 100*fit.LensU, fit.TagU, fit.PrintScale, fit.state.noise, view.Camera.FX, truth.Camera.FX, view.Centre()[2], truth.Centre()[2], found, solved, fit.Flags)
			require.LessOrEqual(t, math.Abs(bias/n), 0.05, "%s %s", name, light)
			require.LessOrEqual(t, math.Abs(area), 1e-4, "%s %s", name, light) // a fifteenth of what a chart may be wrong by
			require.LessOrEqual(t, mean, 0.1, "%s %s", name, light)
			require.LessOrEqual(t, worst, 0.3, "%s %s", name, light)
		}
	}
}

// Same tags and same view, bit by bit, on any number of cores.
func TestSameOnAnyCores(t *testing.T) {
	rig := captureRig(t, "phone-top-only")
	grey := linearGrey(t, captureFile(t, "phone-top-only", "top.jpg"))
	run := func(cores int) ([]Sighting, View) {
		defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(cores))
		seen, err := FindTags(grey, rig)
		require.NoError(t, err)
		v, _, err := Solve(rig, sizeOf(grey), seen, nil, DefaultParams())
		require.NoError(t, err)
		return seen, v
	}
	seen1, view1 := run(1)
	seen2, view2 := run(2)
	require.Equal(t, seen1, seen2)
	require.Equal(t, view1, view2)
}
