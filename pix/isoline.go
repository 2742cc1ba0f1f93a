package pix

/*
#cgo CFLAGS: -O3 -std=c11
#include "uneven.h"
*/
import "C"

import "hidechart/hide"

// Isolines traces the closed curves on which a scalar field, bilinear between
// pixel centres, is zero (marching squares; Lorensen & Cline 1987 in the
// plane). Values ≥ 0 are inside. Beyond the picture the field counts as
// outside and a curve follows the outer pixels' border. Curves run with the
// inside on their left: outer curves counter-clockwise in the table frame. They
// come in raster order of the first cell they enter from the left. Where a cell
// is a saddle, its mean decides.
func Isolines(field *Image) ([][]Point, error) {
	if field.Depth() != F32 || field.Channels() != 1 {
		return nil, hide.Faultf(hide.Invalid, "isolines: want one channel of F32")
	}
	return IsolinesIn(field.Float32s(), field.Width())
}

// IsolinesIn is Isolines of a raster, width wide.
func IsolinesIn(v []float32, width int) ([][]Point, error) {
	if width < 1 || len(v) == 0 || len(v)%width != 0 {
		return nil, hide.Faultf(hide.Internal, "isolines: %d values in rows of %d", len(v), width)
	}
	t := tracer{v: v, w: width, h: len(v) / width}
	t.seen = make([]uint64, (t.w+2)*(t.h+2)/64+1)
	uneven := t.unevenCells()
	var curves [][]Point
	for k, row := range uneven {
		y := k - 1
		for _, column := range row {
			x := int(column)
			for _, s := range t.steps(x, y, t.code(x, y)) {
				if s[0] == left && !t.crossed(x, y) {
					curves = append(curves, t.follow(x, y))
				}
			}
		}
	}
	return curves, nil
}

// sides of a cell, in the order top, right, bottom, left
const (
	top = iota
	right
	bottom
	left
)

type tracer struct {
	v    []float32
	w, h int
	seen []uint64 // a bit for each cell whose left side was already crossed inward
}

func (t *tracer) key(x, y int) (word, bit int) {
	k := (y+1)*(t.w+2) + x + 1
	return k / 64, k % 64
}

func (t *tracer) crossed(x, y int) bool {
	word, bit := t.key(x, y)
	return t.seen[word]>>bit&1 != 0
}

func (t *tracer) cross(x, y int) {
	word, bit := t.key(x, y)
	t.seen[word] |= 1 << bit
}

func (t *tracer) at(x, y int) float64 {
	if x < 0 || y < 0 || x >= t.w || y >= t.h {
		return -1
	}
	return float64(t.v[y*t.w+x])
}

// code has bit 0 top left, 1 top right, 2 bottom right, 3 bottom left.
func (t *tracer) code(x, y int) int {
	c := 0
	for i, d := range [4][2]int{{0, 0}, {1, 0}, {1, 1}, {0, 1}} {
		if t.at(x+d[0], y+d[1]) >= 0 {
			c |= 1 << i
		}
	}
	return c
}

// sideSteps lists, per code, pairs of entry and exit sides with the inside on the
// left; for the saddles, 5 and 10, see saddle.
var sideSteps = [16][][2]int{1: {{left, top}}, 2: {{top, right}}, 3: {{left, right}}, 4: {{right, bottom}}, 6: {{top, bottom}}, 7: {{left, bottom}},
	8: {{bottom, left}}, 9: {{bottom, top}}, 11: {{bottom, right}}, 12: {{right, left}}, 13: {{right, top}}, 14: {{top, left}}}

func (t *tracer) steps(x, y, c int) [][2]int {
	if c == 5 || c == 10 {
		return t.saddle(x, y, c)
	}
	return sideSteps[c]
}

func (t *tracer) saddle(x, y, c int) [][2]int {
	joined := t.at(x, y)+t.at(x+1, y)+t.at(x, y+1)+t.at(x+1, y+1) >= 0
	switch {
	case c == 5 && joined:
		return [][2]int{{left, bottom}, {right, top}}
	case c == 5:
		return [][2]int{{left, top}, {right, bottom}}
	case joined:
		return [][2]int{{top, left}, {bottom, right}}
	default:
		return [][2]int{{top, right}, {bottom, left}}
	}
}

// unevenCells lists, per row of cells from -1 on, the cells a curve may cross; it
// only reads, so the rows are shared out to all cores.
func (t *tracer) unevenCells() [][]int32 {
	out := make([][]int32, t.h+1)
	row := func(y int) *C.float {
		if y < 0 || y >= t.h {
			return nil
		}
		return floats(t.v[y*t.w:])
	}
	bands(len(out), func(from, to int) {
		cells, room := make([]int32, t.w+1), make([]uint8, 3*t.w+13)
		for r := from; r < to; r++ {
			n := C.pix_uneven_cells(row(r-1), row(r), C.int(t.w), (*C.int32_t)(&cells[0]), (*C.uint8_t)(&room[0]))
			out[r] = append([]int32(nil), cells[:n]...)
		}
	})
	return out
}

func (t *tracer) follow(x, y int) []Point {
	var curve []Point
	side := left
	for {
		if side == left {
			if t.crossed(x, y) {
				return curve
			}
			t.cross(x, y)
		}
		curve = append(curve, t.crossing(x, y, side))
		for _, s := range t.steps(x, y, t.code(x, y)) {
			if s[0] != side {
				continue
			}
			switch s[1] {
			case top:
				y, side = y-1, bottom
			case right:
				x, side = x+1, left
			case bottom:
				y, side = y+1, top
			case left:
				x, side = x-1, right
			}
			break
		}
	}
}

func (t *tracer) crossing(x, y, side int) Point {
	a, b := [2]int{x, y}, [2]int{x + 1, y}
	switch side {
	case right:
		a, b = [2]int{x + 1, y}, [2]int{x + 1, y + 1}
	case bottom:
		a, b = [2]int{x, y + 1}, [2]int{x + 1, y + 1}
	case left:
		a, b = [2]int{x, y}, [2]int{x, y + 1}
	}
	va, vb := t.at(a[0], a[1]), t.at(b[0], b[1])
	f := 0.5
	if t.within(a) && t.within(b) && va != vb {
		f = va / (va - vb)
	}
	return Point{hide.PX(float64(a[0]) + f*float64(b[0]-a[0])), hide.PX(float64(a[1]) + f*float64(b[1]-a[1]))}
}

func (t *tracer) within(p [2]int) bool { return p[0] >= 0 && p[1] >= 0 && p[0] < t.w && p[1] < t.h }
