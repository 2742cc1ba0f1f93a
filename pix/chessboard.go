package pix

import (
	"image"
	"math"

	"gocv.io/x/gocv"

	"hidechart/hide"
)

// Chessboard finds the inner corners of a chessboard of columns × rows inner
// corners in a U8 picture of one channel, to about a pixel, row by row. The
// quadrangle search of OpenCV runs first (it copes with small boards), then
// its sector search (it copes with blur and shade; Duda & Frese 2018). Found
// is false when neither sees the whole board.
//
// Error: Invalid for another kind of picture or a board under 3 × 3.
func Chessboard(grey *Image, columns, rows int) (corners []Point, found bool, err error) {
	if grey.Depth() != U8 || grey.Channels() != 1 || grey.Bounds().Empty() {
		return nil, false, hide.Faultf(hide.Invalid, "chessboard: want one 8-bit channel")
	}
	if columns < 3 || rows < 3 {
		return nil, false, hide.Faultf(hide.Invalid, "chessboard: %d x %d inner corners, want at least 3 x 3", columns, rows)
	}
	m := gocv.NewMat()
	defer m.Close()
	size := image.Pt(columns, rows)
	found = gocv.FindChessboardCorners(grey.mat, size, &m, gocv.CalibCBAdaptiveThresh|gocv.CalibCBNormalizeImage)
	if !found {
		found = gocv.FindChessboardCornersSB(grey.mat, size, &m, gocv.CalibCBExhaustive|gocv.CalibCBAccuracy)
	}
	if !found || m.Rows()*m.Cols() != columns*rows {
		return nil, false, nil
	}
	return cornersOf(m), true, nil
}

// RefineSaddles moves corners to the saddle point of the grey values within
// half[i] pixels to each side (Förstner & Gülch 1987 by OpenCV's cornerSubPix):
// every gradient in the window is orthogonal to the line to the corner. A corner
// whose refinement leaves its window keeps its place.
//
// Error: Invalid for another picture than one U8 channel, or windows that do
// not match the corners or are below one pixel.
func RefineSaddles(grey *Image, corners []Point, half []int) ([]Point, error) {
	if grey.Depth() != U8 || grey.Channels() != 1 || len(half) != len(corners) {
		return nil, hide.Faultf(hide.Invalid, "refine corners: want one 8-bit channel and a window for each corner")
	}
	// 100 rounds or a step of 1e-4 px: far below the noise of any photograph.
	// Made once a call: gocv has no way to free it (16 bytes).
	until := gocv.NewTermCriteria(gocv.Count|gocv.EPS, 100, 1e-4)
	out := make([]Point, len(corners))
	for i, c := range corners {
		if half[i] < 1 {
			return nil, hide.Faultf(hide.Invalid, "refine corners: window of %d px", half[i])
		}
		m := cornersMat(corners[i : i+1])
		err := gocv.CornerSubPix(grey.mat, &m, image.Pt(half[i], half[i]), image.Pt(-1, -1), until)
		if err != nil {
			m.Close()
			return nil, hide.Wrapf(hide.Internal, err, "refine corners")
		}
		out[i] = cornersOf(m)[0]
		m.Close()
		if math.Hypot(float64(out[i].X-c.X), float64(out[i].Y-c.Y)) > float64(half[i]) {
			out[i] = c
		}
	}
	return out, nil
}

func cornersMat(p []Point) gocv.Mat {
	m := gocv.NewMatWithSize(len(p), 1, gocv.MatTypeCV32FC2)
	for i, c := range p {
		m.SetFloatAt(i, 0, float32(c.X))
		m.SetFloatAt(i, 1, float32(c.Y))
	}
	return m
}

func cornersOf(m gocv.Mat) []Point {
	v := gocv.NewPoint2fVectorFromMat(m)
	defer v.Close()
	var out []Point
	for _, p := range v.ToPoints() {
		out = append(out, Point{hide.PX(p.X), hide.PX(p.Y)})
	}
	return out
}
