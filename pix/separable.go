package pix

/*
#cgo CFLAGS: -O3 -std=c11
#include "separable.h"
*/
import "C"

import (
	"image"
	"math"
	"runtime"
	"sync"
	"sync/atomic"
	"unsafe"

	"hidechart/hide"
)

// Filter is a sum of one or two separable filters, each a kernel across (along
// x) and one down (along y), by their places in a list of kernels.
type Filter [][2]int

// tile of Filter's passes: they stay in a core's cache.
var filterTile = image.Pt(256, 64)

// Filters correlates a raster, width wide, with separable filters, all at once
// and on all cores; the border is mirrored, its pixels not repeated. Kernels have
// odd length and are even or odd about their middle. out[i], of in's size, takes
// what filters[i] gives, but only where parts lie; parts must lie in the raster
// and not overlap. Errors: Invalid for other kernels, Internal for other sizes.
func Filters(out [][]float32, in []float32, width int, kernels [][]float64, filters []Filter, parts []image.Rectangle) error {
	var pin runtime.Pinner
	defer pin.Unpin()
	half, err := halves(kernels, &pin)
	if err != nil {
		return err
	}
	todo, err := pairs(filters, len(kernels))
	if err != nil {
		return err
	}
	to := make([]*C.float, len(out))
	for i, o := range out {
		if len(o) != len(in) || len(out) != len(filters) {
			return hide.Faultf(hide.Internal, "filters: rasters differ in size or number")
		}
		to[i] = floats(o)
		pin.Pin(&o[0])
	}
	for _, p := range parts {
		if err := inside(p, width, in); err != nil {
			return err
		}
	}
	var next atomic.Int64
	var wait sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), len(parts)) {
		wait.Go(func() {
			var room []float32
			for {
				i := int(next.Add(1)) - 1
				if i >= len(parts) {
					return
				}
				p := C.pix_part{C.int(parts[i].Min.X), C.int(parts[i].Min.Y), C.int(parts[i].Max.X), C.int(parts[i].Max.Y)}
				if n := int(C.pix_filters_room(p, &half[0], C.int(len(half)))); n > len(room) {
					room = make([]float32, n)
				}
				C.pix_filters(floats(in), C.int(width), C.int(len(in)/width), p, &half[0], C.int(len(half)),
					&todo[0], C.int(len(todo)), &to[0], floats(room))
			}
		})
	}
	wait.Wait()
	return nil
}

// Tiles cover a raster in parts of a size that Filters is quick on.
func Tiles(width, height int) []image.Rectangle {
	all := image.Rect(0, 0, width, height)
	var out []image.Rectangle
	for y := 0; y < height; y += filterTile.Y {
		for x := 0; x < width; x += filterTile.X {
			out = append(out, image.Rect(x, y, x+filterTile.X, y+filterTile.Y).Intersect(all))
		}
	}
	return out
}

// Blurred is a raster, width wide, under a Gaussian of the given standard
// deviation, as Gaussian makes it of a picture.
func Blurred(in []float32, width int, sigma hide.PX) ([]float32, error) {
	if sigma <= 0 {
		return nil, hide.Faultf(hide.Invalid, "blur: sigma %v px must be positive", sigma)
	}
	out := make([]float32, len(in))
	if len(in) == 0 {
		return out, nil
	}
	err := Filters([][]float32{out}, in, width, [][]float64{GaussianKernel(sigma, 0)}, []Filter{{{0, 0}}}, Tiles(width, len(in)/width))
	return out, err
}

func halves(kernels [][]float64, pin *runtime.Pinner) ([]C.pix_half_kernel, error) {
	out := make([]C.pix_half_kernel, len(kernels))
	for i, k := range kernels {
		reach := len(k) / 2
		if len(k)%2 == 0 {
			return nil, hide.Faultf(hide.Invalid, "filters: a kernel has %d weights, want an odd number", len(k))
		}
		sign := 1.0
		if reach > 0 && k[0] != k[len(k)-1] {
			sign = -1
		}
		weights := make([]float32, reach+1)
		for j := range weights {
			if math.Abs(k[reach+j]-sign*k[reach-j]) > 1e-12 {
				return nil, hide.Faultf(hide.Invalid, "filters: a kernel is neither even nor odd about its middle")
			}
			weights[j] = float32(k[reach+j])
		}
		pin.Pin(&weights[0])
		out[i] = C.pix_half_kernel{weight: floats(weights), reach: C.int(reach), sign: C.float(sign)}
	}
	return out, nil
}

func pairs(filters []Filter, kernels int) ([]C.pix_filter, error) {
	out := make([]C.pix_filter, len(filters))
	for i, f := range filters {
		if len(f) == 0 || len(f) > len(out[i].across) {
			return nil, hide.Faultf(hide.Internal, "filters: want one or two pairs of kernels, not %d", len(f))
		}
		out[i].pairs = C.int(len(f))
		for q, p := range f {
			if min(p[0], p[1]) < 0 || max(p[0], p[1]) >= kernels {
				return nil, hide.Faultf(hide.Internal, "filters: there is no kernel %v", p)
			}
			out[i].across[q], out[i].down[q] = C.int(p[0]), C.int(p[1])
		}
	}
	return out, nil
}

// AddRatios adds (r/noise)² to sum, rasters width wide, where in is true. Noise
// is given per block and read bilinear between the blocks' middles.
func AddRatios(sum, r []float32, in []bool, width int, noise Blocks) error {
	height := len(r) / width
	if len(sum) != len(r) || len(in) != len(r) || noise.Width*noise.Side < width || len(noise.Values)/noise.Width*noise.Side < height {
		return hide.Faultf(hide.Internal, "add ratios: rasters differ in size, or noise is too little")
	}
	bands(height, func(from, to int) {
		room := make([]float32, 2*width+noise.Width+1)
		C.pix_add_ratios(floats(sum), floats(r), (*C.uint8_t)(unsafe.Pointer(&in[0])), C.int(width), C.int(from), C.int(to),
			floats(noise.Values), C.int(noise.Width), C.int(len(noise.Values)/noise.Width), C.int(noise.Side), floats(room))
	})
	return nil
}
