package pix

/*
#cgo CFLAGS: -O3 -std=c11
#include "exposure.h"
*/
import "C"

import (
	"image"
	"runtime"
	"sync"
	"unsafe"

	"hidechart/hide"
)

// Exposure is a photograph read as linear light. It keeps the codes as they were
// stored, a half of what the light takes, and decodes those that are asked for.
type Exposure struct {
	codes *Image
	curve *curve
}

// curve is the light of every code, 65535 is white.
type curve struct {
	whole  []uint16
	light  []float32 // the same
	spread []float32 // of 8 bits: per channel and code four values, the light in the channel's own
}

func newCurve(table []uint16) *curve {
	c := &curve{whole: table, light: make([]float32, len(table))}
	for i, v := range table {
		c.light[i] = float32(v)
	}
	if len(table) == 256 {
		c.spread = make([]float32, 256*3*4)
		for k := range 3 {
			for i, v := range c.light {
				c.spread[4*(256*k+i)+k] = v
			}
		}
	}
	return c
}

var (
	curve8  = sync.OnceValue(func() *curve { return newCurve(linearTable(255)) })
	curve16 = sync.OnceValue(func() *curve { return newCurve(linearTable(65535)) })
)

// NewExposure takes over a photograph of one or three channels of U8 or U16, coded
// as Linear has it. Error: Invalid for another; then it is closed.
func NewExposure(codes *Image) (*Exposure, error) {
	d, n := codes.Depth(), codes.Channels()
	if (d != U8 && d != U16) || (n != 1 && n != 3) || codes.mat.Empty() {
		codes.Close()
		return nil, hide.Faultf(hide.Invalid, "exposure: want one or three channels of 8 or 16 bits")
	}
	if d == U16 {
		return &Exposure{codes, curve16()}, nil
	}
	return &Exposure{codes, curve8()}, nil
}

// Close frees the photograph. It may be called again and on nil.
func (e *Exposure) Close() {
	if e != nil {
		e.codes.Close()
	}
}

// Width in pixels.
func (e *Exposure) Width() int { return e.codes.Width() }

// Height in pixels.
func (e *Exposure) Height() int { return e.codes.Height() }

// Channels per pixel.
func (e *Exposure) Channels() int { return e.codes.Channels() }

// Light of the n-th channel of a pixel, 65535 is white.
func (e *Exposure) Light(x, y, n int) uint16 {
	i := (y*e.Width()+x)*e.Channels() + n
	if e.codes.Depth() == U8 {
		return e.curve.whole[e.codes.Bytes()[i]]
	}
	return e.curve.whole[e.codes.Uint16s()[i]]
}

// Grey is the luminance, U16: what Grey makes of Linear. The caller closes it.
func (e *Exposure) Grey() *Image {
	out := unset(e.Width(), e.Height(), U16, 1)
	bands(e.Height(), func(from, to int) { e.grey(out.Uint16s()[from*e.Width():to*e.Width()], from*e.Width(), to*e.Width()) })
	return out
}

// GreyPart is Grey of a part, clipped to the photograph, and where its upper left
// pixel lies; nil where nothing is left. The caller closes it.
func (e *Exposure) GreyPart(box image.Rectangle) (*Image, image.Point) {
	if box = box.Intersect(e.codes.Bounds()); box.Empty() {
		return nil, image.Point{}
	}
	out := unset(box.Dx(), box.Dy(), U16, 1)
	for y := range box.Dy() {
		at := (box.Min.Y+y)*e.Width() + box.Min.X
		e.grey(out.Uint16s()[y*box.Dx():(y+1)*box.Dx()], at, at+box.Dx())
	}
	return out, box.Min
}

// grey writes the luminance of the pixels from one to before another.
func (e *Exposure) grey(d []uint16, from, to int) {
	n := e.Channels()
	if e.codes.Depth() == U8 {
		lightRow(d, e.codes.Bytes()[n*from:n*to], e.curve.whole)
	} else {
		lightRow(d, e.codes.Uint16s()[n*from:n*to], e.curve.whole)
	}
}

func lightRow[T uint8 | uint16](d []uint16, s []T, light []uint16) {
	if len(s) == len(d) {
		for i, v := range s {
			d[i] = light[v]
		}
		return
	}
	for i := range d {
		p := s[3*i : 3*i+3]
		d[i] = luminanceOf(light[p[0]], light[p[1]], light[p[2]])
	}
}

// exposureSide is what positions are kept to; see STEPPED in exposure.c.
const exposureSide = 130000

// Remap is the package's Remap, bilinear, of the light: U16. Errors: Invalid for an
// empty size or a side of the photograph over 130000 pixels.
func (e *Exposure) Remap(width, height int, at func(row int, xs, ys []float32)) (*Image, error) {
	if width < 1 || height < 1 {
		return nil, hide.Faultf(hide.Invalid, "remap: cannot make %d × %d pixels", width, height)
	}
	if max(e.Width(), e.Height()) > exposureSide {
		return nil, hide.Faultf(hide.Invalid, "remap: the picture is %d × %d; sides of up to %d pixels are possible", e.Width(), e.Height(), exposureSide)
	}
	out := unset(width, height, U16, e.Channels())
	to := out.Uint16s()
	bands(height, func(first, last int) {
		xs, ys := make([]float32, width), make([]float32, width)
		for y := first; y < last; y++ {
			at(y, xs, ys)
			e.readBetween(xs, ys, to[y*width*e.Channels():(y+1)*width*e.Channels()])
		}
	})
	return out, nil
}

func (e *Exposure) readBetween(xs, ys []float32, to []uint16) {
	var pin runtime.Pinner
	defer pin.Unpin()
	in := &C.pix_exposure{bits: 16, w: C.int(e.Width()), h: C.int(e.Height()), channels: C.int(e.Channels()), light: floats(e.curve.light)}
	pin.Pin(&e.curve.light[0])
	if e.codes.Depth() == U8 {
		in.bits, in.codes, in.spread = 8, unsafe.Pointer(&e.codes.Bytes()[0]), floats(e.curve.spread)
		pin.Pin(&e.curve.spread[0])
	} else {
		in.codes = unsafe.Pointer(&e.codes.Uint16s()[0])
	}
	x, y, light := floats(xs), floats(ys), (*C.uint16_t)(unsafe.Pointer(&to[0]))
	C.pix_read_between(in, x, y, light, C.int(len(xs)))
}
