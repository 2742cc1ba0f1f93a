package pix

import (
	"image"
	"math"

	"gocv.io/x/gocv"

	"hidechart/hide"
)

// Mask is a U8 picture of one channel: 0 out, anything else in.

// Dilate grows a mask by a disc of the given radius.
func Dilate(mask *Image, radius hide.PX) (*Image, error) {
	return morph(mask, radius, gocv.MorphDilate)
}

// Erode shrinks a mask by a disc of the given radius.
func Erode(mask *Image, radius hide.PX) (*Image, error) { return morph(mask, radius, gocv.MorphErode) }

// Open removes what a disc of the given radius does not fit into.
func Open(mask *Image, radius hide.PX) (*Image, error) { return morph(mask, radius, gocv.MorphOpen) }

// Shut fills gaps that a disc of the given radius does not fit into.
func Shut(mask *Image, radius hide.PX) (*Image, error) { return morph(mask, radius, gocv.MorphClose) }

func morph(mask *Image, radius hide.PX, op gocv.MorphType) (*Image, error) {
	if mask.Depth() != U8 || mask.Channels() != 1 {
		return nil, hide.Faultf(hide.Invalid, "morphology: want a mask of one 8-bit channel")
	}
	side := 2*int(math.Round(float64(radius))) + 1
	el := gocv.GetStructuringElement(gocv.MorphEllipse, image.Pt(side, side))
	defer el.Close()
	out := blank()
	if err := gocv.MorphologyEx(mask.mat, &out.mat, op, el); err != nil {
		out.Close()
		return nil, hide.Wrapf(hide.Internal, err, "morphology")
	}
	return out, nil
}

// Part is one connected part of a mask.
type Part struct {
	Label  int32
	Box    image.Rectangle
	Pixels int
	Centre Point
}

// Parts labels the 8-connected parts of a mask: an I32 picture (0 outside, then
// 1, 2, … in raster order of their first pixel) and what is known of each, in
// label order. The caller closes the labels.
func Parts(mask *Image) (*Image, []Part, error) {
	if mask.Depth() != U8 || mask.Channels() != 1 {
		return nil, nil, hide.Faultf(hide.Invalid, "parts: want a mask of one 8-bit channel")
	}
	labels := blank()
	stats, centres := gocv.NewMat(), gocv.NewMat()
	defer stats.Close()
	defer centres.Close()
	n := gocv.ConnectedComponentsWithStats(mask.mat, &labels.mat, &stats, &centres)
	if labels.mat.Empty() || stats.Rows() != n {
		labels.Close()
		return nil, nil, hide.Faultf(hide.Internal, "parts: labelling failed")
	}
	parts := make([]Part, 0, n-1)
	for i := 1; i < n; i++ {
		x, y := int(stats.GetIntAt(i, 0)), int(stats.GetIntAt(i, 1))
		parts = append(parts, Part{Label: int32(i),
			Box:    image.Rect(x, y, x+int(stats.GetIntAt(i, 2)), y+int(stats.GetIntAt(i, 3))),
			Pixels: int(stats.GetIntAt(i, 4)),
			Centre: Point{hide.PX(centres.GetDoubleAt(i, 0)), hide.PX(centres.GetDoubleAt(i, 1))}})
	}
	return labels, parts, nil
}
