package pix

import (
	"gocv.io/x/gocv"

	"hidechart/hide"
)

// step is one of OpenCV's lossless turns.
type step func(src gocv.Mat, dst *gocv.Mat) error

func flip(code int) step {
	return func(src gocv.Mat, dst *gocv.Mat) error { return gocv.Flip(src, dst, code) }
}

func rotate(code gocv.RotateFlag) step {
	return func(src gocv.Mat, dst *gocv.Mat) error { return gocv.Rotate(src, dst, code) }
}

// orient brings a picture upright. Orientation as in TIFF 6.0, tag 274: it
// names where the stored row 0 and column 0 lie in the upright picture (1 top
// left, 2 top right, 3 bottom right, 4 bottom left, 5 left top, 6 right top,
// 7 right bottom, 8 left bottom). It takes the picture over: the caller closes
// only what is returned.
func orient(im *Image, orientation int) (*Image, error) {
	var s step
	switch orientation {
	case 1:
		return im, nil
	case 2:
		s = flip(1)
	case 3:
		s = flip(-1)
	case 4:
		s = flip(0)
	case 5:
		s = gocv.Transpose
	case 6:
		s = rotate(gocv.Rotate90Clockwise)
	case 7:
		s = func(src gocv.Mat, dst *gocv.Mat) error {
			if err := gocv.Transpose(src, dst); err != nil {
				return err
			}
			return gocv.Flip(*dst, dst, -1)
		}
	case 8:
		s = rotate(gocv.Rotate90CounterClockwise)
	default:
		im.Close()
		return nil, hide.Faultf(hide.Internal, "orientation %d: want 1 to 8", orientation)
	}
	defer im.Close()
	out := blank()
	if err := s(im.mat, &out.mat); err != nil {
		out.Close()
		return nil, hide.Wrapf(hide.Internal, err, "orientation %d", orientation)
	}
	return out, nil
}
