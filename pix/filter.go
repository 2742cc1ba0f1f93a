package pix

import (
	"image"
	"math"

	"gocv.io/x/gocv"

	"hidechart/hide"
)

// Gaussian blurs with a Gaussian of the given standard deviation; the edge is
// mirrored. The kernel reaches four deviations, where what is cut off is under
// 1e-4 of the sum.
func Gaussian(im *Image, sigma hide.PX) (*Image, error) {
	if sigma <= 0 {
		return nil, hide.Faultf(hide.Invalid, "gaussian: sigma %v px must be positive", sigma)
	}
	k := 2*int(math.Ceil(4*float64(sigma))) + 1
	out := blank()
	if err := gocv.GaussianBlur(im.mat, &out.mat, image.Pt(k, k), float64(sigma), float64(sigma), gocv.BorderReflect101); err != nil {
		out.Close()
		return nil, hide.Wrapf(hide.Internal, err, "gaussian")
	}
	return out, nil
}

// Box averages over a square of side px (odd); the edge is mirrored.
func Box(im *Image, side int) (*Image, error) {
	out := blank()
	if err := gocv.BoxFilter(im.mat, &out.mat, -1, image.Pt(side|1, side|1)); err != nil {
		out.Close()
		return nil, hide.Wrapf(hide.Internal, err, "box")
	}
	return out, nil
}

// Separable correlates with across (along x), then down (along y); the result
// is F32; the edge is mirrored. Kernels have odd length.
func Separable(im *Image, across, down []float64) (*Image, error) {
	kx, ky := column(across), column(down)
	defer kx.Close()
	defer ky.Close()
	out := blank()
	if err := gocv.SepFilter2D(im.mat, &out.mat, gocv.MatTypeCV32F, kx, ky, image.Pt(-1, -1), 0, gocv.BorderReflect101); err != nil {
		out.Close()
		return nil, hide.Wrapf(hide.Internal, err, "separable filter")
	}
	return out, nil
}

func column(k []float64) gocv.Mat {
	m := gocv.NewMatWithSize(len(k), 1, gocv.MatTypeCV64F)
	for i, v := range k {
		m.SetDoubleAt(i, 0, v)
	}
	return m
}

// GaussianKernel samples the order-th derivative (0, 1 or 2) of a Gaussian of
// the given deviation, reaching four deviations. Orders 1 and 2 are corrected
// so that a constant gives exactly 0 and a ramp or parabola its exact
// derivative (Lindeberg 1998 uses the uncorrected samples).
func GaussianKernel(sigma hide.PX, order int) []float64 {
	s := float64(sigma)
	n := int(math.Ceil(4 * s))
	k := make([]float64, 2*n+1)
	var sum float64
	for i := range k {
		x := float64(i - n)
		k[i] = math.Exp(-x * x / (2 * s * s))
		sum += k[i]
	}
	var moment, mean float64
	for i := range k {
		x := float64(i - n)
		k[i] /= sum
		switch order {
		case 1:
			k[i] *= x / (s * s)
			moment += k[i] * x
		case 2:
			k[i] *= (x*x/(s*s) - 1) / (s * s)
			mean += k[i] / float64(len(k))
		}
	}
	for i := range k {
		x := float64(i - n)
		switch order {
		case 1:
			k[i] /= moment
		case 2:
			k[i] -= mean
			moment += k[i] * x * x / 2
		}
	}
	if order == 2 {
		for i := range k {
			k[i] /= moment
		}
	}
	return k
}

// Resize scales to the given size: averaging when smaller, bilinear when
// larger.
func Resize(im *Image, width, height int) (*Image, error) {
	if width < 1 || height < 1 {
		return nil, hide.Faultf(hide.Invalid, "resize: size %d x %d", width, height)
	}
	ip := gocv.InterpolationLinear
	if width < im.Width() {
		ip = gocv.InterpolationArea
	}
	out := blank()
	if err := gocv.Resize(im.mat, &out.mat, image.Pt(width, height), 0, 0, ip); err != nil {
		out.Close()
		return nil, hide.Wrapf(hide.Internal, err, "resize")
	}
	return out, nil
}

// Float converts to F32 and multiplies by scale.
func Float(im *Image, scale float64) (*Image, error) {
	out := blank()
	if err := im.mat.ConvertToWithParams(&out.mat, gocv.MatTypeCV32F, float32(scale), 0); err != nil {
		out.Close()
		return nil, hide.Wrapf(hide.Internal, err, "convert to float")
	}
	return out, nil
}

// Channel copies one channel out of an interleaved picture.
func Channel(im *Image, index int) (*Image, error) {
	if index < 0 || index >= im.Channels() {
		return nil, hide.Faultf(hide.Invalid, "channel %d of %d", index, im.Channels())
	}
	out := blank()
	if err := gocv.ExtractChannel(im.mat, &out.mat, index); err != nil {
		out.Close()
		return nil, hide.Wrapf(hide.Internal, err, "channel")
	}
	return out, nil
}
