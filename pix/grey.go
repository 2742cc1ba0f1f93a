package pix

import (
	"image"

	"hidechart/hide"
)

// Weights of red, green and blue in luminance (ITU-R BT.709-6, 3.2: 0.2126,
// 0.7152, 0.0722), as 65536ths that add up to exactly one.
const (
	redWeight   = 13933
	greenWeight = 46871
	blueWeight  = 4732
	oneWeight   = redWeight + greenWeight + blueWeight
)

// Grey is the luminance of a picture in linear light: one or three channels
// (blue, green, red) of U8 or U16 in, one channel of the same depth out, rounded;
// a grey picture is copied. The caller closes the result. Error: Invalid for
// other channels or depths.
func Grey(im *Image) (*Image, error) {
	if im.Depth() != U8 && im.Depth() != U16 {
		return nil, hide.Faultf(hide.Invalid, "grey: want 8 or 16 bits a channel")
	}
	switch im.Channels() {
	case 1:
		return im.Clone(), nil
	case 3:
		out := unset(im.Width(), im.Height(), im.Depth(), 1)
		if im.Depth() == U8 {
			luminance(im.Bytes(), out.Bytes(), im.Width(), im.Height())
		} else {
			luminance(im.Uint16s(), out.Uint16s(), im.Width(), im.Height())
		}
		return out, nil
	}
	return nil, hide.Faultf(hide.Invalid, "grey: want one or three channels, got %d", im.Channels())
}

// GreyIn is Grey within boxes and 0 elsewhere, for looking at a few places of a
// large picture.
func GreyIn(im *Image, boxes []image.Rectangle) (*Image, error) {
	if im.Channels() != 3 {
		return Grey(im)
	}
	if im.Depth() != U8 && im.Depth() != U16 {
		return nil, hide.Faultf(hide.Invalid, "grey: want 8 or 16 bits a channel")
	}
	out := New(im.Width(), im.Height(), im.Depth(), 1)
	for _, b := range boxes {
		b = b.Intersect(im.Bounds())
		for y := b.Min.Y; y < b.Max.Y && !b.Empty(); y++ {
			from, to := y*im.Width()+b.Min.X, y*im.Width()+b.Max.X
			if im.Depth() == U8 {
				luminanceRow(im.Bytes()[3*from:3*to], out.Bytes()[from:to])
			} else {
				luminanceRow(im.Uint16s()[3*from:3*to], out.Uint16s()[from:to])
			}
		}
	}
	return out, nil
}

func luminance[T uint8 | uint16](src, dst []T, width, height int) {
	bands(height, func(from, to int) {
		luminanceRow(src[3*from*width:3*to*width], dst[from*width:to*width])
	})
}

func luminanceRow[T uint8 | uint16](s, d []T) {
	for i := range d {
		b, g, r := uint32(s[3*i]), uint32(s[3*i+1]), uint32(s[3*i+2])
		d[i] = T((blueWeight*b + greenWeight*g + redWeight*r + oneWeight/2) / oneWeight)
	}
}
