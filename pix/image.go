package pix

import (
	"image"

	"gocv.io/x/gocv"

	"hidechart/hide"
)

// Depth is the type of one channel of a pixel.
type Depth int

// The depths in use.
const (
	U8 Depth = iota
	U16
	I32
	F32
)

// Point is a place in an image, pixels, x right, y down, centres at integers.
type Point struct{ X, Y hide.PX }

// Image is a picture of one to four interleaved channels. It is used by
// pointer (closing a copy of the wrapped matrix would end the process) and
// closed by who made it; a function that takes one borrows it.
type Image struct {
	mat    gocv.Mat
	closed bool
}

func matType(d Depth, channels int) gocv.MatType {
	base := map[Depth]gocv.MatType{U8: gocv.MatTypeCV8U, U16: gocv.MatTypeCV16U, I32: gocv.MatTypeCV32S, F32: gocv.MatTypeCV32F}[d]
	return base + gocv.MatType((channels-1)*8) // OpenCV: CV_MAKETYPE(depth, cn) = depth + (cn-1)<<3
}

// New returns a picture filled with zeros.
func New(width, height int, d Depth, channels int) *Image {
	return &Image{mat: gocv.NewMatWithSizeFromScalar(gocv.NewScalar(0, 0, 0, 0), height, width, matType(d, channels))}
}

func wrap(m gocv.Mat) *Image { return &Image{mat: m} }

func blank() *Image { return wrap(gocv.NewMat()) }

// Close frees the pixels. It may be called again and on nil.
func (im *Image) Close() {
	if im == nil || im.closed {
		return
	}
	im.closed = true
	_ = im.mat.Close() // gocv returns no error for a valid matrix
}

// Width in pixels.
func (im *Image) Width() int { return im.mat.Cols() }

// Height in pixels.
func (im *Image) Height() int { return im.mat.Rows() }

// Channels per pixel.
func (im *Image) Channels() int { return im.mat.Channels() }

// Depth of a channel.
func (im *Image) Depth() Depth {
	switch im.mat.Type() & 7 {
	case gocv.MatTypeCV8U:
		return U8
	case gocv.MatTypeCV16U:
		return U16
	case gocv.MatTypeCV32S:
		return I32
	default:
		return F32
	}
}

// Bounds is the rectangle of all pixels.
func (im *Image) Bounds() image.Rectangle { return image.Rect(0, 0, im.Width(), im.Height()) }

// Clone copies the picture.
func (im *Image) Clone() *Image { return wrap(im.mat.Clone()) }

// Crop copies a part; r is clipped to the picture and must not be empty then.
func (im *Image) Crop(r image.Rectangle) (*Image, error) {
	r = r.Intersect(im.Bounds())
	if r.Empty() {
		return nil, hide.Faultf(hide.Invalid, "crop: outside the picture")
	}
	part := im.mat.Region(r)
	defer part.Close()
	return wrap(part.Clone()), nil
}

// Bytes is the picture's own memory, row by row, interleaved; U8 only.
func (im *Image) Bytes() []uint8 { return must(im.mat.DataPtrUint8()) }

// Uint16s is the picture's own memory, row by row, interleaved; U16 only.
func (im *Image) Uint16s() []uint16 { return must(im.mat.DataPtrUint16()) }

// Float32s is the picture's own memory, row by row, interleaved; F32 only.
func (im *Image) Float32s() []float32 { return must(im.mat.DataPtrFloat32()) }

// must panics on a programmer's mistake: the wrong depth asked for.
func must[T any](data T, err error) T {
	if err != nil {
		panic("pix: " + err.Error())
	}
	return data
}
