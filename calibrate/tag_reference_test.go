package calibrate

import (
	"encoding/json"
	"image"
	"math"
	"os"
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/hide"
	"hidechart/pix"
)

// tagCorners is the input of testdata/tags/opencv_reference.py.
type tagCorners struct {
	Size    [2]int       `json:"size_px"`
	Table   [][2]float64 `json:"table_mm"`
	Corners [][2]float64 `json:"corners_px"`
}

// tagReference is its output.
type tagReference struct {
	OpenCV string `json:"opencv"`
	Views  map[string]struct {
		RMS float64       `json:"rms_px"`
		PnP float64       `json:"solve_pnp_rms_px"`
		K   [3][3]float64 `json:"K"`
		D   [5]float64    `json:"D"`
		R   [9]float64    `json:"R"`
		T   [3]float64    `json:"t"`
	} `json:"views"`
}

// HIDECHART_WRITE_CORNERS=1 renews testdata/tags/corners.json from the shared captures;
// run opencv_reference.py after it.
func TestWriteReferenceCorners(t *testing.T) {
	if os.Getenv("HIDECHART_WRITE_CORNERS") == "" {
		t.Skip("only to renew the reference's input")
	}
	out := map[string]tagCorners{}
	for _, name := range captureNames() {
		rig, grey := captureRig(t, name), linearGrey(t, captureFile(t, name, "top.jpg"))
		seen, err := FindTags(grey, rig)
		require.NoError(t, err)
		f := tagCorners{Size: [2]int{grey.Width(), grey.Height()}}
		for _, s := range seen {
			for k, q := range rig.Corners(s.ID) {
				f.Table = append(f.Table, [2]float64{float64(q.X), float64(q.Y)})
				f.Corners = append(f.Corners, [2]float64{math.Round(float64(s.Corners[k].X)*1e4) / 1e4, math.Round(float64(s.Corners[k].Y)*1e4) / 1e4})
			}
		}
		out[name] = f
	}
	data, err := json.MarshalIndent(out, "", " ")
	require.NoError(t, err)
	require.NoError(t, os.WriteFile("testdata/tags/corners.json", data, 0o600))
}

// Our fit against OpenCV 4.6.0's calibrateCamera on the same corners (script,
// version and output in testdata/tags). OpenCV takes the rig as exact and knows no
// priors, so with 72 corners its residual is the least that there is; ours may be
// a tenth larger, and both planes must agree to a fifth of a pixel of 0.7 mm.
func TestSolveAgainstOpenCV(t *testing.T) {
	var corners map[string]tagCorners
	var ref tagReference
	for path, into := range map[string]any{"testdata/tags/corners.json": &corners, "testdata/tags/opencv_reference.json": &ref} {
		data, err := os.ReadFile(path)
		require.NoError(t, err)
		require.NoError(t, json.Unmarshal(data, into))
	}
	require.Equal(t, "4.6.0", ref.OpenCV)
	require.Len(t, ref.Views, 4)
	for name, r := range ref.Views {
		c := corners[name]
		rig := gridRig(0)
		var seen []Sighting
		for i := 0; i < len(c.Table); i += 4 {
			s := Sighting{ID: i / 4, Good: [4]bool{true, true, true, true}}
			var middle hide.Point
			for k := range 4 {
				s.Corners[k] = pix.Point{X: hide.PX(c.Corners[i+k][0]), Y: hide.PX(c.Corners[i+k][1])}
				s.SD[k] = 0.01
				middle.X += hide.MM(c.Table[i+k][0] / 4)
				middle.Y += hide.MM(c.Table[i+k][1] / 4)
			}
			rig.Centres[s.ID] = middle
			seen = append(seen, s)
		}
		view, fit, err := Solve(rig, image.Pt(c.Size[0], c.Size[1]), seen, nil, DefaultParams())
		require.NoError(t, err)
		theirs := View{R: r.R, T: r.T, Camera: Camera{FX: r.K[0][0], FY: r.K[1][1], CX: r.K[0][2], CY: r.K[1][2],
			K1: r.D[0], K2: r.D[1], P1: r.D[2], P2: r.D[3], K3: r.D[4], Width: c.Size[0], Height: c.Size[1]}}
		mean, worst, area := planeError(theirs, view, 90, 90, 3210, 2510)
		t.Logf("%s: rms %.4f px, OpenCV %.4f (solvePnP %.4f); planes differ by %.3f mm mean, %.3f mm at most, area %+.4f %%; f %.0f, OpenCV %.0f",
			name, fit.RMSPX, r.RMS, r.PnP, mean, worst, 100*area, view.Camera.FX, theirs.Camera.FX)
		require.LessOrEqual(t, fit.RMSPX, 1.1*r.RMS+0.005, name)
		require.Less(t, mean, 0.07, name)
		require.Less(t, worst, 0.2, name)
		require.Less(t, math.Abs(area), 1e-4, name)
	}
}
