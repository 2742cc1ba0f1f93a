package pix

import "hidechart/hide"

// TopByte is a coded picture in 8 bits a channel: U8 is copied, of U16 the upper
// byte is kept, as displays do. The caller closes the result. Error: Invalid for
// another depth.
func TopByte(im *Image) (*Image, error) {
	switch im.Depth() {
	case U8:
		return im.Clone(), nil
	case U16:
	default:
		return nil, hide.Faultf(hide.Invalid, "top byte: want 8 or 16 bits a channel")
	}
	out := unset(im.Width(), im.Height(), U8, im.Channels())
	src, dst := im.Uint16s(), out.Bytes()
	width := im.Width() * im.Channels()
	bands(im.Height(), func(from, to int) {
		for i := from * width; i < to*width; i++ {
			dst[i] = uint8(src[i] >> 8)
		}
	})
	return out, nil
}
