package pix

import (
	"runtime"
	"sync"

	"hidechart/hide"
)

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
	t := tracer{v: field.Float32s(), w: field.Width(), h: field.Height(), seen: map[int]bool{}}
	uneven := t.unevenCells()
	var curves [][]Point
	for k, row := range uneven {
		y := k - 1
		for _, x := range row {
			for _, s := range t.steps(x, y, t.code(x, y)) {
				if s[0] == left && !t.seen[t.key(x, y)] {
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
	seen map[int]bool // left sides already crossed inward
}

func (t *tracer) key(x, y int) int { return (y+1)*(t.w+2) + x + 1 }

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

// steps lists, per code, pairs of entry and exit sides with the inside on the
// left. Saddles: see saddle.
func (t *tracer) steps(x, y, c int) [][2]int {
	switch c {
	case 1:
		return [][2]int{{left, top}}
	case 2:
		return [][2]int{{top, right}}
	case 3:
		return [][2]int{{left, right}}
	case 4:
		return [][2]int{{right, bottom}}
	case 6:
		return [][2]int{{top, bottom}}
	case 7:
		return [][2]int{{left, bottom}}
	case 8:
		return [][2]int{{bottom, left}}
	case 9:
		return [][2]int{{bottom, top}}
	case 11:
		return [][2]int{{bottom, right}}
	case 12:
		return [][2]int{{right, left}}
	case 13:
		return [][2]int{{right, top}}
	case 14:
		return [][2]int{{top, left}}
	case 5, 10:
		return t.saddle(x, y, c)
	}
	return nil
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
func (t *tracer) unevenCells() [][]int {
	out := make([][]int, t.h+1)
	bands := runtime.GOMAXPROCS(0)
	var wait sync.WaitGroup
	for k := range bands {
		wait.Go(func() {
			for r := k * len(out) / bands; r < (k+1)*len(out)/bands; r++ {
				for x := -1; x < t.w; x++ {
					if !t.even(x, r-1) {
						out[r] = append(out[r], x)
					}
				}
			}
		})
	}
	wait.Wait()
	return out
}

// even is a quick look whether a cell inside the picture has four corners alike.
func (t *tracer) even(x, y int) bool {
	if x < 0 || y < 0 || x >= t.w-1 || y >= t.h-1 {
		c := t.code(x, y)
		return c == 0 || c == 15
	}
	i := y*t.w + x
	a, b, c, d := t.v[i], t.v[i+1], t.v[i+t.w], t.v[i+t.w+1]
	return (a < 0) == (b < 0) && (c < 0) == (d < 0) && (a < 0) == (c < 0)
}

func (t *tracer) follow(x, y int) []Point {
	var curve []Point
	side := left
	for {
		if side == left {
			if t.seen[t.key(x, y)] {
				return curve
			}
			t.seen[t.key(x, y)] = true
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
