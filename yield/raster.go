package yield

import (
	"math"
	"math/bits"
	"slices"

	"hidechart/hide"
)

// bitmap is a raster of bits: cell (c, r) is the square from (c, r) to
// (c+1, r+1) in cells. Rows lie in words of 64 cells; bits beyond the width stay 0.
type bitmap struct {
	w, h, stride int // cells; stride in words
	bits         []uint64
}

func newBitmap(w, h int) *bitmap {
	stride := (w + 63) / 64
	return &bitmap{w: w, h: h, stride: stride, bits: make([]uint64, stride*h)}
}

func (b *bitmap) row(r int) []uint64 { return b.bits[r*b.stride : (r+1)*b.stride] }

func (b *bitmap) has(c, r int) bool {
	return c >= 0 && r >= 0 && c < b.w && r < b.h && b.bits[r*b.stride+c/64]>>(c%64)&1 == 1
}

func (b *bitmap) count() int {
	n := 0
	for _, w := range b.bits {
		n += bits.OnesCount64(w)
	}
	return n
}

func (b *bitmap) clone() *bitmap {
	out := *b
	out.bits = slices.Clone(b.bits)
	return &out
}

// or adds the cells of a bitmap of the same size.
func (b *bitmap) or(o *bitmap) {
	for i, w := range o.bits {
		b.bits[i] |= w
	}
}

// and keeps the cells that a bitmap of the same size has too.
func (b *bitmap) and(o *bitmap) {
	for i, w := range o.bits {
		b.bits[i] &= w
	}
}

// setRun sets the cells c0..c1 of row r to v; what is outside is left out.
func (b *bitmap) setRun(r, c0, c1 int, v bool) {
	c0, c1 = max(c0, 0), min(c1, b.w-1)
	if r < 0 || r >= b.h || c0 > c1 {
		return
	}
	row := b.row(r)
	for i := c0 / 64; i <= c1/64; i++ {
		mask := ^uint64(0)
		if i == c0/64 {
			mask <<= c0 % 64
		}
		if i == c1/64 {
			mask &= ^uint64(0) >> (63 - c1%64)
		}
		if v {
			row[i] |= mask
		} else {
			row[i] &^= mask
		}
	}
}

// grid places a bitmap in the plane: cell (0, 0) begins at origin.
type grid struct {
	origin hide.Point
	cell   hide.MM
}

func (g grid) local(p hide.Point) (x, y float64) {
	return float64((p.X - g.origin.X) / g.cell), float64((p.Y - g.origin.Y) / g.cell)
}

func (g grid) at(c, r int) hide.Point {
	return hide.Point{X: g.origin.X + hide.MM(c)*g.cell, Y: g.origin.Y + hide.MM(r)*g.cell}
}

// rounding says which cells of a shape's edge belong to its bitmap.
type rounding int

const (
	inner   rounding = iota // cells wholly inside
	outer                   // cells the shape's inside reaches into
	central                 // cells whose centre is inside: the least error of area
)

// touchTolerance in cells: an edge this near a cell border lies on it. It
// takes up the rounding of coordinates (1e-13 of a metre in 0.5 mm is 1e-10), and
// lets a piece meet another it fits exactly; 0.5 nm on the table.
const touchTolerance = 1e-6

// fill draws a shape into a bitmap of w×h cells.
func (g grid) fill(s hide.Shape, w, h int, how rounding) *bitmap {
	b := newBitmap(w, h)
	g.paint(b, s, how)
	return b
}

// paint adds a shape to a bitmap.
func (g grid) paint(b *bitmap, s hide.Shape, how rounding) {
	var rings []hide.Ring
	for _, p := range s {
		rings = append(append(rings, p.Outer), p.Holes...)
	}
	g.scan(rings, b.h, func(r, c0, c1 int) { b.setRun(r, c0, c1, true) })
	if how == central {
		return
	}
	for _, ring := range rings {
		for i, p := range ring {
			g.edgeCells(p, ring[(i+1)%len(ring)], b.h, func(r, c0, c1 int) { b.setRun(r, c0, c1, how == outer) })
		}
	}
}

// scan hands out the runs of cells whose centre is inside by the even-odd rule.
func (g grid) scan(rings []hide.Ring, h int, run func(r, c0, c1 int)) {
	xs := make([][]float64, h)
	for _, ring := range rings {
		for i, p := range ring {
			x0, y0 := g.local(p)
			x1, y1 := g.local(ring[(i+1)%len(ring)])
			if y0 > y1 {
				x0, y0, x1, y1 = x1, y1, x0, y0
			}
			// rows whose centre r+½ lies in [y0, y1)
			for r := max(0, int(math.Ceil(y0-0.5))); r < h && float64(r)+0.5 < y1; r++ {
				xs[r] = append(xs[r], x0+(x1-x0)*(float64(r)+0.5-y0)/(y1-y0))
			}
		}
	}
	for r, x := range xs {
		slices.Sort(x)
		for i := 0; i+1 < len(x); i += 2 {
			if c0, c1 := int(math.Ceil(x[i]-0.5)), int(math.Ceil(x[i+1]-0.5))-1; c0 <= c1 {
				run(r, c0, c1)
			}
		}
	}
}

// edgeCells hands out the cells whose open inside a segment passes through,
// row by row.
func (g grid) edgeCells(p, q hide.Point, h int, run func(r, c0, c1 int)) {
	x0, y0 := g.local(p)
	x1, y1 := g.local(q)
	if y0 > y1 {
		x0, y0, x1, y1 = x1, y1, x0, y0
	}
	first, last := max(0, int(math.Floor(y0+touchTolerance))), min(h-1, int(math.Ceil(y1-touchTolerance))-1)
	for r := first; r <= last; r++ {
		from, to := x0, x1
		if y1 > y0 {
			from = x0 + (x1-x0)*max(0, float64(r)-y0)/(y1-y0)
			to = x0 + (x1-x0)*min(1, (float64(r)+1-y0)/(y1-y0))
		}
		if from > to {
			from, to = to, from
		}
		c0, c1 := int(math.Floor(from+touchTolerance)), int(math.Ceil(to-touchTolerance))-1
		if c0 <= c1 {
			run(r, c0, c1)
		}
	}
}

// Box is an upright rectangle in mm.
type Box struct{ Min, Max hide.Point }

// boxOf is the smallest box around a shape; ok is false for none.
func boxOf(s hide.Shape) (b Box, ok bool) {
	for _, p := range s {
		for _, q := range p.Outer {
			if !ok {
				b, ok = Box{q, q}, true
			}
			b.Min = hide.Point{X: min(b.Min.X, q.X), Y: min(b.Min.Y, q.Y)}
			b.Max = hide.Point{X: max(b.Max.X, q.X), Y: max(b.Max.Y, q.Y)}
		}
	}
	return b, ok
}

// gridOver is the grid that covers a box, its lines at whole multiples of
// the cell so that hides and runs share it.
func gridOver(b Box, cell hide.MM) (g grid, w, h int) {
	x0, y0 := math.Floor(float64(b.Min.X/cell)), math.Floor(float64(b.Min.Y/cell))
	g = grid{origin: hide.Point{X: hide.MM(x0) * cell, Y: hide.MM(y0) * cell}, cell: cell}
	return g, int(math.Ceil(float64(b.Max.X/cell))-x0) + 1, int(math.Ceil(float64(b.Max.Y/cell))-y0) + 1
}
