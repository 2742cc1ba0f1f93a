package score

import (
	"image"
	"math"
	"slices"

	"hidechart/hide"
	"hidechart/pix"
)

// patch is a mask on a rectangle of the truth grid: true where it is covered.
type patch struct {
	box image.Rectangle
	in  []bool // row by row over box
}

func newPatch(box image.Rectangle) patch { return patch{box: box, in: make([]bool, area(box))} }

func (p patch) row(y int) []bool {
	i := (y - p.box.Min.Y) * p.box.Dx()
	return p.in[i : i+p.box.Dx()]
}

// each calls f with the index in the grid (of the given width) of every
// covered pixel, row by row.
func (p patch) each(width int, f func(i int)) {
	for y := p.box.Min.Y; y < p.box.Max.Y; y++ {
		base := y*width + p.box.Min.X
		for x, in := range p.row(y) {
			if in {
				f(base + x)
			}
		}
	}
}

// fill covers the pixels whose centres lie in the shape (even-odd rule; an
// edge belongs to the right of it and below it, so shapes that share an edge
// share no pixel). A shape too thin to hold a pixel centre covers the pixels
// under its vertices instead. Pixels off the grid are left out.
func fill(s hide.Shape, g pix.Grid) patch {
	rings := rasterRings(s, g)
	p := newPatch(boxAround(rings).Intersect(image.Rect(0, 0, g.Width, g.Height)))
	if p.box.Empty() {
		return p
	}
	covered := 0
	crossings := make([][]float64, p.box.Dy())
	for _, r := range rings {
		for i, a := range r {
			cross(crossings, p.box.Min.Y, a, r[(i+1)%len(r)])
		}
	}
	for k, xs := range crossings {
		covered += fillRow(p.row(p.box.Min.Y+k), p.box.Min.X, xs)
	}
	if covered == 0 {
		p.coverVertices(rings)
	}
	return p
}

func rasterRings(s hide.Shape, g pix.Grid) [][]pix.Point {
	var out [][]pix.Point
	add := func(r hide.Ring) {
		q := make([]pix.Point, len(r))
		for i, v := range r {
			q[i] = g.ToRaster(v)
		}
		out = append(out, q)
	}
	for _, poly := range s {
		add(poly.Outer)
		for _, h := range poly.Holes {
			add(h)
		}
	}
	return out
}

func boxAround(rings [][]pix.Point) image.Rectangle {
	b := image.Rectangle{}
	for _, r := range rings {
		for _, q := range r {
			x, y := int(math.Round(float64(q.X))), int(math.Round(float64(q.Y)))
			b = b.Union(image.Rect(x, y, x+1, y+1))
		}
	}
	return b
}

// cross notes where the edge from a to b meets the centre line of each row.
func cross(rows [][]float64, top int, a, b pix.Point) {
	if a.Y > b.Y {
		a, b = b, a
	}
	first := max(int(math.Ceil(float64(a.Y))), top)
	last := min(int(math.Ceil(float64(b.Y)))-1, top+len(rows)-1)
	for y := first; y <= last; y++ {
		t := (float64(y) - float64(a.Y)) / float64(b.Y-a.Y)
		rows[y-top] = append(rows[y-top], float64(a.X)+t*float64(b.X-a.X))
	}
}

func fillRow(row []bool, left int, xs []float64) int {
	slices.Sort(xs)
	covered := 0
	for i := 0; i+1 < len(xs); i += 2 {
		first := max(int(math.Ceil(xs[i]))-left, 0)
		last := min(int(math.Ceil(xs[i+1]))-left, len(row))
		for x := first; x < last; x++ {
			row[x] = true
			covered++
		}
	}
	return covered
}

func (p patch) coverVertices(rings [][]pix.Point) {
	for _, r := range rings {
		for _, q := range r {
			at := image.Pt(int(math.Round(float64(q.X))), int(math.Round(float64(q.Y))))
			if at.In(p.box) {
				p.row(at.Y)[at.X-p.box.Min.X] = true
			}
		}
	}
}

// grown is the patch of all pixels of the grid whose centres lie within
// distance (pixels) of a covered pixel's centre. A disc on each covered pixel
// with an uncovered neighbour does it: no other can be the nearest.
func (p patch) grown(distance float64, g pix.Grid) patch {
	reach := int(math.Floor(distance))
	out := newPatch(p.box.Inset(-reach).Intersect(image.Rect(0, 0, g.Width, g.Height)))
	if p.box.Empty() {
		return p
	}
	disc := make([]int, 2*reach+1) // half width of each row of the disc
	for k := range disc {
		dy := float64(k - reach)
		disc[k] = int(math.Floor(math.Sqrt(max(distance*distance-dy*dy, 0))))
	}
	for y := p.box.Min.Y; y < p.box.Max.Y; y++ {
		for x, in := range p.row(y) {
			if !in {
				continue
			}
			at := image.Pt(p.box.Min.X+x, y)
			if p.inner(at) {
				out.row(y)[at.X-out.box.Min.X] = true
				continue
			}
			out.stamp(at, disc)
		}
	}
	return out
}

// inner reports whether the pixel's four neighbours are covered too.
func (p patch) inner(at image.Point) bool {
	for _, d := range [4]image.Point{{X: 1}, {X: -1}, {Y: 1}, {Y: -1}} {
		q := at.Add(d)
		if !q.In(p.box) || !p.row(q.Y)[q.X-p.box.Min.X] {
			return false
		}
	}
	return true
}

func (p patch) stamp(at image.Point, disc []int) {
	reach := len(disc) / 2
	for k, half := range disc {
		y := at.Y + k - reach
		if y < p.box.Min.Y || y >= p.box.Max.Y {
			continue
		}
		row := p.row(y)
		first, last := max(at.X-half-p.box.Min.X, 0), min(at.X+half-p.box.Min.X, len(row)-1)
		for x := first; x <= last; x++ {
			row[x] = true
		}
	}
}
