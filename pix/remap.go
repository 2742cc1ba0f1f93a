package pix

import (
	"image"
	"image/color"

	"gocv.io/x/gocv"

	"hidechart/hide"
)

// Interp is how a picture is read between its pixels.
type Interp int

// The ways to interpolate.
const (
	Bilinear Interp = iota // never overshoots, exact on a ramp: for measuring
	Cubic                  // keeps fine texture; overshoots at hard edges, moves a ramp by up to 0.05 px (OpenCV's a = -0.75)
)

// remapSide is what OpenCV 4.6's remap takes: it keeps positions as int16.
const remapSide = 32766

// Remap builds a picture of the given size whose pixel (column, row) is src
// read at a position that at gives: it fills xs and ys, of length width, with
// source pixels (centres at integers). at is called from several goroutines, once
// for each row. What lies outside src is 0. Depth and channels are those of src;
// OpenCV rounds positions to 1/32 px. The maps never cover more than a band of
// rows; the result does not depend on the number of cores. The caller closes the
// result. Errors: Invalid for an empty size, an unknown interpolation, or a side
// of src over 32766 pixels.
func Remap(src *Image, width, height int, interp Interp, at func(row int, xs, ys []float32)) (*Image, error) {
	flag, ok := map[Interp]gocv.InterpolationFlags{Bilinear: gocv.InterpolationLinear, Cubic: gocv.InterpolationCubic}[interp]
	if !ok || src.Depth() == I32 {
		return nil, hide.Faultf(hide.Invalid, "remap: want 8, 16 or float bits and a known interpolation")
	}
	if width < 1 || height < 1 || width > remapSide {
		return nil, hide.Faultf(hide.Invalid, "remap: cannot make %d × %d pixels", width, height)
	}
	if src.mat.Empty() || src.Width() > remapSide || src.Height() > remapSide {
		return nil, hide.Faultf(hide.Invalid, "remap: the picture is %d × %d; sides of 1 to %d pixels are possible",
			src.Width(), src.Height(), remapSide)
	}
	out := unset(width, height, src.Depth(), src.Channels())
	errs := make([]error, (height+bandRows-1)/bandRows) // by band, so that the first one in order is told
	bands(height, func(from, to int) {
		errs[from/bandRows] = remapBand(src, out, from, to, flag, at)
	})
	for _, err := range errs {
		if err != nil {
			out.Close()
			return nil, hide.Wrapf(hide.Internal, err, "remap")
		}
	}
	return out, nil
}

func remapBand(src, out *Image, from, to int, flag gocv.InterpolationFlags, at func(row int, xs, ys []float32)) error {
	width := out.Width()
	xs, ys := unset(width, to-from, F32, 1), unset(width, to-from, F32, 1)
	defer xs.Close()
	defer ys.Close()
	x, y := xs.Float32s(), ys.Float32s()
	for row := from; row < to; row++ {
		i := (row - from) * width
		at(row, x[i:i+width], y[i:i+width])
	}
	// a view of out's rows: OpenCV writes into it as size and type fit
	rows := out.mat.Region(image.Rect(0, from, width, to))
	defer rows.Close()
	return gocv.Remap(src.mat, &rows, &xs.mat, &ys.mat, flag, gocv.BorderConstant, color.RGBA{})
}
