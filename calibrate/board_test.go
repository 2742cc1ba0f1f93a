package calibrate

import (
	"encoding/json"
	"image"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/hide"
	"hidechart/pix"
)

// sampleBoard is the board of testdata/lens: 9 × 6 inner corners, 25 mm.
func sampleBoard() Board { return Board{Columns: 9, Rows: 6, Square: 25} }

// sampleViews finds the board in the thirteen left photographs of OpenCV's
// sample data (Debian package opencv-doc 4.6.0; licence in testdata/lens).
func sampleViews(t *testing.T) []BoardView {
	t.Helper()
	return sampleViewsWith(t, func(grey *pix.Image) ([]pix.Point, error) { return FindBoard(grey, sampleBoard()) })
}

// sampleViewsWith finds them in another way.
func sampleViewsWith(t *testing.T, find func(*pix.Image) ([]pix.Point, error)) []BoardView {
	t.Helper()
	paths, err := filepath.Glob("testdata/lens/left*.jpg")
	require.NoError(t, err)
	require.Len(t, paths, 13)
	var views []BoardView
	for _, path := range paths {
		data, err := os.ReadFile(path)
		require.NoError(t, err)
		grey, err := pix.Decode(data, pix.DefaultLimits())
		require.NoError(t, err)
		corners, err := find(grey)
		grey.Close()
		require.NoError(t, err, path)
		views = append(views, BoardView{Name: filepath.Base(path), Corners: corners})
	}
	return views
}

// The result published beside the photographs, testdata/lens/left_intrinsics.yml:
// one focal length 535.916 px (aspect held at 1, k3 fitted), principal point
// (342.283, 235.571), error 0.39259 px (RMS over all corners). Its second view
// has an error of 1.18 px, six times the others': corners found wrongly there
// pull the published focal length up by about two of its uncertainties. Issue 3
// asks for 0.5 %, 3 px and that error; all thirteen views are kept.
func TestPublishedLens(t *testing.T) {
	views := sampleViews(t)
	fit, err := FitBoards(views, sampleBoard(), image.Pt(640, 480), DefaultBoardParams())
	require.NoError(t, err)
	require.InDelta(t, 535.916, fit.Terms.FX, 0.005*535.916)
	require.InDelta(t, 535.916, fit.Terms.FY, 0.005*535.916)
	require.InDelta(t, 342.283, fit.Terms.CX, 3)
	require.InDelta(t, 235.571, fit.Terms.CY, 3)
	require.LessOrEqual(t, float64(fit.RMS), 0.3926)
	require.LessOrEqual(t, float64(fit.Mean), 0.3926)
	require.Empty(t, fit.Dropped)
	require.Len(t, fit.Views, 13)
	t.Logf("terms %+v\n    u %+v\nRMS %.4f mean %.4f px, reach %.2f", fit.Terms, fit.U, fit.RMS, fit.Mean, fit.Coverage)
	if os.Getenv("HIDECHART_WRITE_CORNERS") != "" {
		writeCorners(t, views)
	}
}

const cornersFile = "testdata/lens_corners.json"

type cornersOfView struct {
	Name    string       `json:"name"`
	Corners [][2]float64 `json:"corners"`
}

func writeCorners(t *testing.T, views []BoardView) {
	t.Helper()
	var all []cornersOfView
	for _, v := range views {
		c := cornersOfView{Name: v.Name}
		for _, p := range v.Corners {
			c.Corners = append(c.Corners, [2]float64{math.Round(float64(p.X)*1e4) / 1e4, math.Round(float64(p.Y)*1e4) / 1e4})
		}
		all = append(all, c)
	}
	data, err := json.Marshal(all)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(cornersFile, data, 0o644))
}

func readCorners(t *testing.T) []BoardView {
	t.Helper()
	data, err := os.ReadFile(cornersFile)
	require.NoError(t, err)
	var all []cornersOfView
	require.NoError(t, json.Unmarshal(data, &all))
	var views []BoardView
	for _, c := range all {
		v := BoardView{Name: c.Name}
		for _, p := range c.Corners {
			v.Corners = append(v.Corners, pix.Point{X: hide.PX(p[0]), Y: hide.PX(p[1])})
		}
		views = append(views, v)
	}
	return views
}

// The same corners through Debian's python3-opencv 4.6.0, terms and standard
// deviations: script testdata/board_reference.py, its output beside it. The
// solver is OpenCV's in both, so terms agree closely; the covariance, errors and
// projection are our own code.
func TestLensAgainstReference(t *testing.T) {
	data, err := os.ReadFile("testdata/board_reference.json")
	require.NoError(t, err)
	type result struct {
		Terms, SD []float64
		RMS, Mean float64
		ViewRMS   []float64 `json:"view_rms"`
	}
	var ref struct {
		OpenCV  string
		Without result `json:"without_k3"`
		With    result `json:"with_k3"`
	}
	require.NoError(t, json.Unmarshal(data, &ref))
	require.Equal(t, "4.6.0", ref.OpenCV)
	for k3, want := range map[bool]result{false: ref.Without, true: ref.With} {
		fit, err := fitOnce(readCorners(t), sampleBoard(), image.Pt(640, 480), k3)
		require.NoError(t, err)
		sd, err := fit.covariance(sampleBoard())
		require.NoError(t, err)
		got := fit.Terms.vector()
		for i := range fit.terms() {
			require.InDelta(t, want.Terms[i], got[i], 1e-4*math.Abs(want.Terms[i])+1e-2*want.SD[i], "term %d", i)
			require.InEpsilon(t, want.SD[i], sd[i], 0.01, "standard deviation %d", i)
		}
		require.InDelta(t, want.RMS, float64(fit.RMS), 1e-5)
		require.InDelta(t, want.Mean, float64(fit.Mean), 1e-5)
		for i, v := range fit.Views {
			require.InDelta(t, want.ViewRMS[i], float64(v.RMS), 1e-4)
		}
	}
}

// invented is a camera and poses for views without error.
func invented() (LensTerms, []pix.BoardPose) {
	lens := LensTerms{FX: 2410, FY: 2405, CX: 1010, CY: 740, K1: -0.12, K2: 0.05, P1: 4e-4, P2: -3e-4}
	var poses []pix.BoardPose
	for i := range 12 {
		a := float64(i) * math.Pi / 6
		turn := [3]float64{0.5 * math.Cos(a), 0.5 * math.Sin(a), 0.1 * float64(i%3-1)}
		centre := turned(turn, [3]float64{100, 62.5, 0}) // the board's middle before the shift
		x, y, z := 90*math.Cos(2.1*a), 60*math.Sin(1.7*a), 420+15*float64(i%4)
		poses = append(poses, pix.BoardPose{Turn: turn, Shift: [3]float64{x - centre[0], y - centre[1], z - centre[2]}})
	}
	return lens, poses
}

func inventedViews(noise float64, rng *rand.Rand) []BoardView {
	lens, poses := invented()
	if rng == nil {
		rng = rand.New(rand.NewPCG(0, 0))
	}
	var views []BoardView
	for i, pose := range poses {
		v := BoardView{Name: string(rune('a' + i))}
		for _, p := range sampleBoard().places() {
			x, y := lens.project(p, pose)
			v.Corners = append(v.Corners, pix.Point{X: hide.PX(x + noise*rng.NormFloat64()), Y: hide.PX(y + noise*rng.NormFloat64())})
		}
		views = append(views, v)
	}
	return views
}

// Corners without noise give the invented lens back, to what float32 corners
// (1e-4 px at 2,000 px) leave.
func TestInventedLens(t *testing.T) {
	want, _ := invented()
	fit, err := FitBoards(inventedViews(0, nil), sampleBoard(), image.Pt(2000, 1500), DefaultBoardParams())
	require.NoError(t, err)
	got, truth := fit.Terms.vector(), want.vector()
	for i, scale := range []float64{0.02, 0.02, 0.02, 0.02, 1e-4, 1e-3, 1e-5, 1e-5} {
		require.InDelta(t, truth[i], got[i], scale, "term %d", i)
	}
}

// With Gaussian noise the true terms lie within u 68 % of the time and within
// 2u 95 %, by the covariance: 60 trials of 8 terms; the terms of a trial hang
// together, so the shares may stray by about 8 and 4 points.
func TestLensUncertaintyCovers(t *testing.T) {
	want, _ := invented()
	truth := want.vector()
	rng := rand.New(rand.NewPCG(5, 11))
	var within1, within2, n float64
	for range 60 {
		fit, err := fitOnce(inventedViews(0.2, rng), sampleBoard(), image.Pt(2000, 1500), false)
		require.NoError(t, err)
		sd, err := fit.covariance(sampleBoard())
		require.NoError(t, err)
		got := fit.Terms.vector()
		for i := range fit.terms() {
			z := math.Abs(got[i]-truth[i]) / sd[i]
			n++
			if z < 1 {
				within1++
			}
			if z < 2 {
				within2++
			}
		}
	}
	require.InDelta(t, 0.683, within1/n, 0.10)
	require.InDelta(t, 0.954, within2/n, 0.05)
}

// A photograph whose board moved while it was taken is left out by name, and
// the lens is right without it.
func TestLensDropsBadView(t *testing.T) {
	views := inventedViews(0.1, rand.New(rand.NewPCG(1, 2)))
	for i := range views[4].Corners {
		views[4].Corners[i].X += hide.PX(3 * math.Sin(float64(i)))
	}
	fit, err := FitBoards(views, sampleBoard(), image.Pt(2000, 1500), DefaultBoardParams())
	require.NoError(t, err)
	require.Len(t, fit.Dropped, 1)
	require.Equal(t, "e", fit.Dropped[0].Name)
	require.Contains(t, fit.Dropped[0].Why, "off the fit")
	want, _ := invented()
	require.InDelta(t, want.FX, fit.Terms.FX, 4*fit.U.FX)
}

// Too few photographs, or all square on: no lens, and the text says what to do.
func TestLensRefuses(t *testing.T) {
	views := inventedViews(0.1, rand.New(rand.NewPCG(1, 2)))
	_, err := FitBoards(views[:3], sampleBoard(), image.Pt(2000, 1500), DefaultBoardParams())
	require.ErrorIs(t, err, hide.NotMeasurable)

	lens, poses := invented()
	rng := rand.New(rand.NewPCG(3, 4))
	for i, pose := range poses {
		pose.Turn = [3]float64{0, 0, 0.3 * float64(i)}
		for k, p := range sampleBoard().places() {
			x, y := lens.project(p, pose)
			views[i].Corners[k] = pix.Point{X: hide.PX(x + 0.2*rng.NormFloat64()), Y: hide.PX(y + 0.2*rng.NormFloat64())}
		}
	}
	_, err = FitBoards(views, sampleBoard(), image.Pt(2000, 1500), DefaultBoardParams())
	require.ErrorIs(t, err, hide.NotMeasurable)

	views[0].Corners = views[0].Corners[:10]
	_, err = FitBoards(views, sampleBoard(), image.Pt(2000, 1500), DefaultBoardParams())
	require.ErrorIs(t, err, hide.Invalid)
	_, err = FitBoards(views, sampleBoard(), image.Pt(2000, 1500), BoardParams{})
	require.ErrorIs(t, err, hide.Invalid)
}

// lens.yaml carries terms, uncertainties, errors and what was left out, and
// reads back as the same lens.
func TestLensFileOfBoards(t *testing.T) {
	fit, err := FitBoards(readCorners(t), sampleBoard(), image.Pt(640, 480), DefaultBoardParams())
	require.NoError(t, err)
	fit.Dropped = []DroppedView{{Name: "x.jpg", Why: "no board"}}
	data, err := fit.File().Encode()
	require.NoError(t, err)
	back, err := ParseLens(data)
	require.NoError(t, err)
	require.Equal(t, 640, back.Camera.Width)
	require.Equal(t, 480, back.Camera.Height)
	require.InEpsilon(t, fit.Terms.FX, back.Camera.FX, 1e-7)
	require.InEpsilon(t, fit.Terms.P2, back.Camera.P2, 1e-7)
	require.InEpsilon(t, fit.U.K1, back.U.K1, 1e-7)
	require.Zero(t, back.U.K3)
	for _, want := range []string{"left14.jpg", "x.jpg", "no board", "rms_px: 0.17"} {
		require.Contains(t, string(data), want)
	}
}
