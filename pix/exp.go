package pix

import (
	"gocv.io/x/gocv"

	"hidechart/hide"
)

// Exp is e to the power of each value, by OpenCV's exp, several values at a time;
// its relative error is below 1e-6. Error: Internal, from OpenCV.
func Exp(in []float32) ([]float32, error) {
	if len(in) == 0 {
		return nil, nil
	}
	im := unset(len(in), 1, F32, 1)
	defer im.Close()
	copy(im.Float32s(), in)
	if err := gocv.Exp(im.mat, &im.mat); err != nil {
		return nil, hide.Wrapf(hide.Internal, err, "exp")
	}
	return append([]float32(nil), im.Float32s()...), nil
}
