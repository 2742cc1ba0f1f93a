package pix

import (
	"math"
	"sync"

	"gocv.io/x/gocv"

	"hidechart/hide"
)

// Linear undoes the sRGB coding of a photograph (IEC 61966-2-1:1999, 5.2): U8 or
// U16 of any number of channels in, U16 proportional to light out, same channels,
// 65535 is white. Blur, noise and shading are only linear in light, so everything
// that measures starts from here. The caller closes the result. Error: Invalid
// for another depth.
func Linear(im *Image) (*Image, error) {
	switch im.Depth() {
	case U8:
		return looked(im, curve8().whole)
	case U16:
		return mapped(im, im.Uint16s(), curve16().whole)
	default:
		return nil, hide.Faultf(hide.Invalid, "linear: want 8 or 16 bits a channel")
	}
}

// SRGBToLinear is the decoding of one value, 0 to 1 (IEC 61966-2-1:1999, 5.2).
func SRGBToLinear(v float64) float64 {
	if v <= 0.04045 {
		return v / 12.92
	}
	return math.Pow((v+0.055)/1.055, 2.4)
}

// LinearToSRGB is its inverse.
func LinearToSRGB(v float64) float64 {
	if v <= 0.0031308 {
		return v * 12.92
	}
	return 1.055*math.Pow(v, 1/2.4) - 0.055
}

func linearTable(top int) []uint16 {
	t := make([]uint16, top+1)
	for i := range t {
		t[i] = uint16(math.Round(65535 * SRGBToLinear(float64(i)/float64(top))))
	}
	return t
}

// looked maps a U8 picture through 256 values.
func looked(im *Image, table []uint16) (*Image, error) {
	values := New(len(table), 1, U16, 1)
	defer values.Close()
	copy(values.Uint16s(), table)
	out := blank()
	if err := gocv.LUT(im.mat, values.mat, &out.mat); err != nil {
		out.Close()
		return nil, hide.Wrapf(hide.Internal, err, "look up")
	}
	return out, nil
}

func mapped(im *Image, src, table []uint16) (*Image, error) {
	out := unset(im.Width(), im.Height(), U16, im.Channels())
	dst := out.Uint16s()
	width := im.Width() * im.Channels()
	bands(im.Height(), func(from, to int) {
		d := dst[from*width : to*width]
		for i, v := range src[from*width : to*width] {
			d[i] = table[v]
		}
	})
	return out, nil
}

var codedTable = sync.OnceValue(func() *[1 << 16]uint8 {
	t := new([1 << 16]uint8)
	for i := range t {
		t[i] = uint8(math.Round(255 * LinearToSRGB(float64(i)/65535)))
	}
	return t
})

// EightBit codes linear light for the eye: U16 in, sRGB-coded U8 out, same
// channels. The caller closes the result. Error: Invalid for another depth.
func EightBit(im *Image) (*Image, error) {
	if im.Depth() != U16 {
		return nil, hide.Faultf(hide.Invalid, "eight bit: want 16-bit linear light")
	}
	table := codedTable()
	out := unset(im.Width(), im.Height(), U8, im.Channels())
	src, dst := im.Uint16s(), out.Bytes()
	width := im.Width() * im.Channels()
	bands(im.Height(), func(from, to int) {
		d := dst[from*width : to*width]
		for i, v := range src[from*width : to*width] {
			d[i] = table[v]
		}
	})
	return out, nil
}
