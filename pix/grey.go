package pix

import "hidechart/hide"

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

func luminance[T uint8 | uint16](src, dst []T, width, height int) {
	bands(height, func(from, to int) {
		luminanceRow(src[3*from*width:3*to*width], dst[from*width:to*width])
	})
}

func luminanceRow[T uint8 | uint16](s, d []T) {
	for i := range d {
		d[i] = luminanceOf(s[3*i], s[3*i+1], s[3*i+2])
	}
}

func luminanceOf[T uint8 | uint16](b, g, r T) T {
	return T((blueWeight*uint32(b) + greenWeight*uint32(g) + redWeight*uint32(r) + oneWeight/2) / oneWeight)
}
