package pix

import (
	"gocv.io/x/gocv"

	"hidechart/hide"
)

// Colour repeats a grey picture in three equal channels; one that has three is
// copied. Depth stays. The caller closes the result. Error: Invalid for another
// number of channels.
func Colour(im *Image) (*Image, error) {
	switch im.Channels() {
	case 3:
		return im.Clone(), nil
	case 1:
	default:
		return nil, hide.Faultf(hide.Invalid, "colour: want one or three channels, got %d", im.Channels())
	}
	out := blank()
	if err := gocv.CvtColor(im.mat, &out.mat, gocv.ColorGrayToBGR); err != nil {
		out.Close()
		return nil, hide.Wrapf(hide.Internal, err, "colour")
	}
	return out, nil
}
