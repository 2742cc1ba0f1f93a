package pix

import (
	"slices"

	"gocv.io/x/gocv"

	"hidechart/hide"
)

// EncodeJPEG writes a picture, U8 of one channel or three (blue, green, red),
// as JPEG (ITU-T T.81). quality runs from 1 to 100; the same picture gives the same bytes. Errors:
// Invalid for another picture or quality; Internal from OpenCV.
func EncodeJPEG(im *Image, quality int) ([]byte, error) {
	if im.Depth() != U8 || im.Channels() != 1 && im.Channels() != 3 || im.mat.Empty() {
		return nil, hide.Faultf(hide.Invalid, "jpeg: want 8 bits, one channel or three")
	}
	if quality < 1 || quality > 100 {
		return nil, hide.Faultf(hide.Invalid, "jpeg: quality %d, want 1 to 100", quality)
	}
	b, err := gocv.IMEncodeWithParams(gocv.JPEGFileExt, im.mat, []int{gocv.IMWriteJpegQuality, quality})
	if err != nil {
		return nil, hide.Wrapf(hide.Internal, err, "jpeg")
	}
	defer b.Close()
	return slices.Clone(b.GetBytes()), nil
}

// DecodeReduced decodes a JPEG at a half, a quarter or an eighth of its size
// (factor 2, 4, 8), which the inverse transform gives directly: at an eighth it takes
// a fifth of the time and a 64th of the memory. Sizes are rounded up. The picture is U8, as stored; no
// orientation is applied. The caller closes it. Errors: Invalid for another factor; Unreadable as Decode.
func DecodeReduced(data []byte, lim Limits, factor int) (*Image, error) {
	flags := map[int]gocv.IMReadFlag{2: gocv.IMReadReducedColor2, 4: gocv.IMReadReducedColor4, 8: gocv.IMReadReducedColor8}
	flag, ok := flags[factor]
	if !ok {
		return nil, hide.Faultf(hide.Invalid, "decode: factor %d, want 2, 4 or 8", factor)
	}
	l, err := readLayout(data)
	if err != nil {
		return nil, err
	}
	if l.Format != "jpeg" || l.Pixels() > lim.MaxPixels || l.cut != "" {
		return nil, hide.Faultf(hide.Unreadable, "the picture is no JPEG, is cut off, or has over %d megapixels", lim.MaxPixels/1e6)
	}
	m, err := gocv.IMDecode(data, flag|gocv.IMReadIgnoreOrientation)
	if err != nil {
		return nil, hide.Wrapf(hide.Unreadable, err, "the JPEG file is damaged; copy it again")
	}
	im := wrap(m)
	if want := (l.Width + factor - 1) / factor; im.mat.Empty() || im.Width() != want {
		im.Close()
		return nil, hide.Faultf(hide.Unreadable, "the JPEG file is damaged; copy it again")
	}
	return im, nil
}
