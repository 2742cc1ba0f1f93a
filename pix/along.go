package pix

/*
#cgo CFLAGS: -O3 -std=c11
#include "along.h"
*/
import "C"

import (
	"image"
	"math"
	"runtime"
	"unsafe"

	"hidechart/hide"
)

// Stretch is a line of 2^len(Steps) pixels from a pixel on: step k doubles it by
// what lies Steps[k] away, so the steps of a straight line are 1, 2, 4, … pixels
// long. Steps never point up (Y ≥ 0).
type Stretch struct {
	Steps []image.Point
	First int // after so many steps the sum is wanted as well; 0: only the whole
}

// Middle is the shift from a stretch's start to its middle after n steps.
func (s Stretch) Middle(n int) image.Point {
	var end image.Point
	for _, p := range s.Steps[:n] {
		end = end.Add(p)
	}
	return end.Div(2)
}

// Room is how many values the buffer of Sum holds for a tile of a size.
func (s Stretch) Room(tile image.Point) int {
	w, h := tile.X, tile.Y
	for _, p := range s.Steps {
		w, h = w+max(p.X, -p.X), h+p.Y
	}
	return w * (h + 1)
}

func (s Stretch) check(tile image.Rectangle, buffer int) error {
	for _, p := range s.Steps {
		if p.Y < 0 {
			return hide.Faultf(hide.Internal, "stretch: step %v points up", p)
		}
	}
	if len(s.Steps) == 0 || s.First >= len(s.Steps) || buffer < s.Room(tile.Size()) {
		return hide.Faultf(hide.Internal, "stretch: %d steps, first sum after %d, buffer of %d", len(s.Steps), s.First, buffer)
	}
	return nil
}

// Short is a number in bfloat16, the upper half of an IEEE 754 binary32: eight bits, a quarter percent,
// in half of the memory, which is what summing along lines waits for.
type Short uint16

// Float32 is the same number.
func (v Short) Float32() float32 { return math.Float32frombits(uint32(v) << 16) }

// Weighted is a weighted sum of two or three rasters of one size.
type Weighted struct {
	Rasters [3][]float32 // the last may be nil
	Weights [3]float32
}

// Sum writes, for the pixels of a tile, the sum of v along the stretch that
// starts at each: the whole into last and, if it is wanted, that after First
// steps into first. Beyond the raster, which is width wide, v is 0. The buffer
// has Room.
func (s Stretch) Sum(first, last []Short, v Weighted, width int, tile image.Rectangle, buffer []float32) error {
	f := C.pix_raster{C.int(width), C.int(len(last) / width)}
	if err := s.check(tile, len(buffer)); err != nil {
		return err
	}
	if err := inside(tile, width, v.Rasters[0], v.Rasters[1]); err != nil {
		return err
	}
	if len(last) != len(v.Rasters[0]) || (s.First > 0 && len(first) != len(last)) {
		return hide.Faultf(hide.Internal, "stretch: rasters differ in size")
	}
	sx, sy := make([]C.int32_t, len(s.Steps)), make([]C.int32_t, len(s.Steps))
	for k, p := range s.Steps {
		sx[k], sy[k] = C.int32_t(p.X), C.int32_t(p.Y)
	}
	var early *C.pix_short
	if s.First > 0 {
		early = shorts(first)
	}
	var third *C.float
	if v.Rasters[2] != nil {
		third = floats(v.Rasters[2])
	}
	C.pix_sum_along(floats(v.Rasters[0]), floats(v.Rasters[1]), third, C.float(v.Weights[0]), C.float(v.Weights[1]), C.float(v.Weights[2]),
		f, tileOf(tile), &sx[0], &sy[0], C.int(len(s.Steps)), early, C.int(s.First), shorts(last), floats(buffer))
	return nil
}

// Blocks holds one value per Side × Side pixels, Width to a row.
type Blocks struct {
	Values      []float32
	Side, Width int
}

// AddBlockSquares adds to each block the squares of a raster, width wide, held
// between ±limit, where in is true; only every every-th pixel of a row and of a
// column counts, and a block's side is a multiple of it.
func AddBlockSquares[T float32 | Short](sum Blocks, r []T, in []bool, width, every int, limit float32) error {
	height := len(r) / width
	if len(in) != len(r) || len(r) == 0 || every < 1 || sum.Side%every != 0 || sum.Width != (width+sum.Side-1)/sum.Side ||
		len(sum.Values) != sum.Width*((height+sum.Side-1)/sum.Side) {
		return hide.Faultf(hide.Internal, "block squares: rasters differ in size")
	}
	to, mask, f := floats(sum.Values), (*C.uint8_t)(unsafe.Pointer(&in[0])), C.pix_raster{C.int(width), C.int(height)}
	switch v := any(r).(type) {
	case []float32:
		C.pix_block_squares(to, floats(v), mask, f, C.int(every), C.int(sum.Side), C.int(sum.Width), C.float(limit))
	case []Short:
		C.pix_block_squares_short(to, shorts(v), mask, f, C.int(every), C.int(sum.Side), C.int(sum.Width), C.float(limit))
	}
	return nil
}

// KeepSquares sums r² over rasters, each moved by shift and multiplied by the
// scale where it came from; beyond the rasters, width wide, it is 0. Over a tile it
// writes the sum over best, and as over name, where in is true and the sum is the
// greater. All scales have the same blocks.
func KeepSquares(best []float32, name []uint8, in []bool, as uint8, width int, tile image.Rectangle, shift image.Point, rasters [][]Short, scales []Blocks) error {
	height := len(best) / width
	if err := inside(tile, width, best); err != nil {
		return err
	}
	if len(name) != len(best) || len(in) != len(best) || len(rasters) == 0 || len(scales) != len(rasters) {
		return hide.Faultf(hide.Internal, "keep squares: rasters differ in size or number")
	}
	var pin runtime.Pinner
	defer pin.Unpin()
	values, weights := make([]*C.pix_short, len(rasters)), make([]*C.float, len(rasters))
	for k, s := range scales {
		if len(rasters[k]) != len(best) || s.Width*s.Side < width || len(s.Values)/s.Width*s.Side < height || s.Side != scales[0].Side || s.Width != scales[0].Width {
			return hide.Faultf(hide.Internal, "keep squares: rasters differ in size, or scales are too few or differ in their blocks")
		}
		values[k], weights[k] = shorts(rasters[k]), floats(s.Values)
		pin.Pin(&rasters[k][0])
		pin.Pin(&s.Values[0])
	}
	sum := make([]float32, (len(rasters)+1)*tile.Dx())
	C.pix_keep_squares(floats(best), (*C.uint8_t)(unsafe.Pointer(&name[0])), (*C.uint8_t)(unsafe.Pointer(&in[0])), C.uint8_t(as),
		C.pix_raster{C.int(width), C.int(height)}, tileOf(tile), C.int(shift.X), C.int(shift.Y),
		&values[0], &weights[0], C.int(len(rasters)), C.int(scales[0].Side), C.int(scales[0].Width), floats(sum))
	return nil
}

// inside reports a tile that is empty or leaves a raster, and rasters of
// different size.
func inside(tile image.Rectangle, width int, rasters ...[]float32) error {
	for _, r := range rasters {
		if len(r) != len(rasters[0]) || tile.Empty() || !tile.In(image.Rect(0, 0, width, len(r)/width)) {
			return hide.Faultf(hide.Internal, "tile %v does not lie in rasters of one size, %d wide", tile, width)
		}
	}
	return nil
}

func floats(v []float32) *C.float { return (*C.float)(unsafe.Pointer(&v[0])) }

func shorts(v []Short) *C.pix_short { return (*C.pix_short)(unsafe.Pointer(&v[0])) }

func tileOf(r image.Rectangle) C.pix_tile {
	return C.pix_tile{C.int(r.Min.X), C.int(r.Min.Y), C.int(r.Max.X), C.int(r.Max.Y)}
}
