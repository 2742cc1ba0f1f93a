package pix

import (
	"image"
	"math"

	"gocv.io/x/gocv"

	"hidechart/hide"
)

// BoardPose is where a board was: its rotation vector (radians; axis times
// angle) and the place of its first corner, in the camera's frame (x right, y
// down, z ahead) and the board's unit of length.
type BoardPose struct{ Turn, Shift [3]float64 }

// BoardSolution is what SolveBoards finds.
type BoardSolution struct {
	FX, FY, CX, CY     float64 // px; principal point with pixel centres at integers
	K1, K2, P1, P2, K3 float64 // Brown's terms as OpenCV orders them
	Poses              []BoardPose
}

// OpenCV's CALIB_FIX_K3 for calibrateCamera. gocv's constants of the same name
// are those of the fisheye model, whose bits differ.
const fixK3 gocv.CalibFlag = 0x80

// SolveBoards fits one camera and the pose of each view to corners of flat
// boards (Zhang 2000, by OpenCV's calibrateCamera). board holds the corners'
// places on the board in mm, views the corners seen, one list per photograph,
// each as long as board; size is the photographs' size. Without k3 that term
// is held at 0.
//
// Error: Invalid when the lists do not match; NotMeasurable when there is no
// solution, as when all views show the board from the same side.
func SolveBoards(board []hide.Point, views [][]Point, size image.Point, k3 bool) (BoardSolution, error) {
	if len(views) == 0 || len(board) < 6 {
		return BoardSolution{}, hide.Faultf(hide.Invalid, "solve boards: nothing to solve")
	}
	for i, v := range views {
		if len(v) != len(board) {
			return BoardSolution{}, hide.Faultf(hide.Invalid, "solve boards: view %d has %d corners, the board %d", i, len(v), len(board))
		}
	}
	object, seen := boardVectors(board, views)
	defer object.Close()
	defer seen.Close()
	k, d, turns, shifts := gocv.NewMat(), gocv.NewMat(), gocv.NewMat(), gocv.NewMat()
	for _, m := range []*gocv.Mat{&k, &d, &turns, &shifts} {
		defer m.Close()
	}
	flags := fixK3
	if k3 {
		flags = 0
	}
	rms := gocv.CalibrateCamera(object, seen, size, &k, &d, &turns, &shifts, flags)
	if k.Empty() || k.Rows() != 3 || d.Total() < 5 || turns.Total() != len(views) || math.IsNaN(rms) || rms <= 0 {
		return BoardSolution{}, hide.Faultf(hide.NotMeasurable, "solve boards: no camera fits these views")
	}
	return readSolution(k, d, turns, shifts, len(views))
}

func boardVectors(board []hide.Point, views [][]Point) (gocv.Points3fVector, gocv.Points2fVector) {
	flat := make([]gocv.Point3f, len(board))
	for i, p := range board {
		flat[i] = gocv.Point3f{X: float32(p.X), Y: float32(p.Y)}
	}
	object := make([][]gocv.Point3f, len(views))
	seen := make([][]gocv.Point2f, len(views))
	for i, v := range views {
		object[i] = flat
		for _, c := range v {
			seen[i] = append(seen[i], gocv.Point2f{X: float32(c.X), Y: float32(c.Y)})
		}
	}
	return gocv.NewPoints3fVectorFromPoints(object), gocv.NewPoints2fVectorFromPoints(seen)
}

func readSolution(k, d, turns, shifts gocv.Mat, n int) (BoardSolution, error) {
	terms, err := doubles(d)
	if err != nil {
		return BoardSolution{}, err
	}
	s := BoardSolution{FX: k.GetDoubleAt(0, 0), FY: k.GetDoubleAt(1, 1), CX: k.GetDoubleAt(0, 2), CY: k.GetDoubleAt(1, 2),
		K1: terms[0], K2: terms[1], P1: terms[2], P2: terms[3], K3: terms[4]}
	r, err := doubles(turns)
	if err != nil {
		return BoardSolution{}, err
	}
	t, err := doubles(shifts)
	if err != nil {
		return BoardSolution{}, err
	}
	for i := range n {
		s.Poses = append(s.Poses, BoardPose{Turn: [3]float64(r[3*i : 3*i+3]), Shift: [3]float64(t[3*i : 3*i+3])})
	}
	for _, v := range []float64{s.FX, s.FY, s.CX, s.CY, s.K1, s.K2, s.P1, s.P2, s.K3} {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return BoardSolution{}, hide.Faultf(hide.NotMeasurable, "solve boards: the solution diverged")
		}
	}
	return s, nil
}

// doubles copies a matrix of CV_64F numbers, whatever its channels.
func doubles(m gocv.Mat) ([]float64, error) {
	v, err := m.DataPtrFloat64()
	if err != nil {
		return nil, hide.Wrapf(hide.Internal, err, "solve boards: read the result")
	}
	return append([]float64(nil), v...), nil
}
