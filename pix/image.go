package pix

import (
	"image"
	"unsafe"

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

// unset is New without the zeros, for a picture of which every pixel is written.
func unset(width, height int, d Depth, channels int) *Image {
	return &Image{mat: gocv.NewMatWithSizes([]int{height, width}, matType(d, channels))}
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
func (im *Image) Bytes() []uint8 { return memory[uint8](im, U8) }

// Uint16s is the picture's own memory, row by row, interleaved; U16 only.
func (im *Image) Uint16s() []uint16 { return memory[uint16](im, U16) }

// Int32s is the picture's own memory, row by row, interleaved; I32 only.
func (im *Image) Int32s() []int32 { return memory[int32](im, I32) }

// Float32s is the picture's own memory, row by row, interleaved; F32 only.
func (im *Image) Float32s() []float32 { return memory[float32](im, F32) }

// memory views the pixels without a copy; valid until Close. gocv's own views
// check the type loosely and know no int32, so its byte view is recast here.
// It panics on a programmer's mistake: the wrong depth asked for.
func memory[T uint8 | uint16 | int32 | float32](im *Image, d Depth) []T {
	if im.Depth() != d {
		panic("pix: memory asked for with the wrong depth")
	}
	b, err := im.mat.DataPtrUint8()
	if err != nil {
		panic("pix: " + err.Error())
	}
	if len(b) == 0 {
		return nil
	}
	var t T
	return unsafe.Slice((*T)(unsafe.Pointer(&b[0])), len(b)/int(unsafe.Sizeof(t)))
}
