package scene

import (
	"math"

	"hidechart/hide"
)

// layout is how the hide lies on the table.
type layout struct {
	length       float64 // backbone, mm
	half         float64 // largest distance of the contour from the backbone, mm
	side, mirror bool
	angle        float64 // of the backbone neck to tail, counter-clockwise from +x
	x, y         float64 // table position of the hide frame's origin
}

// toTable lays a point of the hide frame on the table.
func (l layout) toTable(p place) hide.Point {
	sin, cos := math.Sincos(l.angle)
	y := p.y
	if l.mirror {
		y = -y
	}
	return hide.Point{X: hide.MM(l.x + p.x*cos - y*sin), Y: hide.MM(l.y + p.x*sin + y*cos)}
}

// toHide is the inverse of toTable.
func (l layout) toHide(x, y float64) place {
	sin, cos := math.Sincos(l.angle)
	dx, dy := x-l.x, y-l.y
	p := place{dx*cos + dy*sin, -dx*sin + dy*cos}
	if l.mirror {
		p.y = -p.y
	}
	return p
}

// drawLayout draws a contour and lays it on the table.
func drawLayout(s source, spec Spec, side bool, t table) (layout, []place) {
	l := layout{side: side, mirror: s.chance(.5)}
	switch {
	case s.chance(.15):
		l.length = s.in(1100, 1500) // calf
	default:
		l.length = s.in(1800, 2650)
	}
	l.angle = drawAngle(s)
	p := drawContour(s, l.length, side)
	margin := t.border() + s.in(5, 60)
	if spec.OverTag {
		margin = s.in(15, 40)
	}
	p = l.fit(s, p, t, margin, spec.OverTag)
	for _, q := range p {
		l.half = math.Max(l.half, math.Abs(q.y))
	}
	return l, p
}

// drawAngle favours hides laid along the table, head left or right.
func drawAngle(s source) float64 {
	a := s.in(-.14, .14)
	switch n := s.count(0, 9); {
	case n < 6:
		return a + math.Pi*float64(n%2)
	case n < 8:
		return a + math.Pi*(float64(n%2)-.5)
	default:
		return s.in(0, 2*math.Pi)
	}
}

// fit shrinks the hide and turns it until it fits into the table less a
// margin, and places it at random in the room left; over, it is pushed
// against one end so that it comes to lie on tags.
func (l *layout) fit(s source, p []place, t table, margin float64, over bool) []place {
	w, h := t.width-2*margin, t.height-2*margin
	bx0, by0, bx1, by1 := l.box(p)
	k := math.Min(w/(bx1-bx0), h/(by1-by0))
	if k < .75 { // aslant it would have to be a small one: lay it along the table
		l.angle = s.in(-.05, .05) + math.Pi*float64(s.count(0, 1))
		bx0, by0, bx1, by1 = l.box(p)
		k = math.Min(w/(bx1-bx0), h/(by1-by0))
	}
	k = math.Min(k, 1)
	l.length *= k
	p = scaled(p, k)
	fx, fy := s.Float64(), s.Float64()
	if over {
		fx = math.Round(fx)
	}
	l.x = margin - bx0*k + fx*(w-(bx1-bx0)*k)
	l.y = margin - by0*k + fy*(h-(by1-by0)*k)
	return p
}

// box bounds the contour as laid at the table's origin.
func (l layout) box(p []place) (x0, y0, x1, y1 float64) {
	l.x, l.y = 0, 0
	x0, y0, x1, y1 = math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for _, q := range p {
		t := l.toTable(q)
		x0, x1 = math.Min(x0, float64(t.X)), math.Max(x1, float64(t.X))
		y0, y1 = math.Min(y0, float64(t.Y)), math.Max(y1, float64(t.Y))
	}
	return x0, y0, x1, y1
}

// border is how far the tag sheets reach into the table, mm.
func (t table) border() float64 {
	reach := 0.0
	for _, g := range t.tags {
		x, y := float64(g.at.X), float64(g.at.Y)
		d := math.Min(math.Min(x, t.width-x), math.Min(y, t.height-y))
		reach = math.Max(reach, d+t.sheet())
	}
	return reach
}

// ends are the backbone's ends: where its line leaves the contour.
func (l layout) ends(p []place) (neck, tail hide.Point) {
	lo, hi := place{math.Inf(1), 0}, place{math.Inf(-1), 0}
	for _, q := range p {
		if math.Abs(q.y) < 6 { // two samples of the contour
			if q.x < lo.x {
				lo.x = q.x
			}
			if q.x > hi.x {
				hi.x = q.x
			}
		}
	}
	return l.toTable(lo), l.toTable(hi)
}

// depths is the distance from the outline, positive inside, on coarse cells:
// for placing things and for knowing where there is leather at all. A
// chamfer transform (Borgefors 1986), good to 5 %, is enough for both.
type depths struct {
	cell          float64
	width, height int
	mm            []float32
}

// depthCell is the cell of depths in mm: a tenth of the smallest hide detail
// that matters for placing.
const depthCell = 4.0

func newDepths(outline hide.Ring, t table) depths {
	d := depths{cell: depthCell, width: int(t.width/depthCell) + 1, height: int(t.height/depthCell) + 1}
	d.mm = make([]float32, d.width*d.height)
	c := newCover(0, 0, d.width, d.height)
	c.ring(toCells(outline))
	in := make([]float32, d.width)
	inside := make([]bool, len(d.mm))
	for y := range d.height {
		c.row(y, in)
		for x, a := range in {
			inside[y*d.width+x] = a >= .5
		}
	}
	plus, minus := chamfer(inside, d.width, d.height, false), chamfer(inside, d.width, d.height, true)
	for i := range d.mm {
		d.mm[i] = (plus[i] - minus[i]) * depthCell
	}
	return d
}

// at returns the depth of a table position, mm.
func (d depths) at(x, y float64) float64 {
	i, j := int(x/d.cell), int(y/d.cell)
	if i < 0 || j < 0 || i >= d.width || j >= d.height {
		return -1e4
	}
	return float64(d.mm[j*d.width+i])
}

// chamfer returns the distance in cells to the nearest cell whose value is
// want.
func chamfer(in []bool, w, h int, want bool) []float32 {
	const side, diagonal = 1, 1.3555 // Borgefors 1986, optimal real weights
	d := make([]float32, len(in))
	for i := range d {
		if in[i] != want {
			d[i] = 1e6
		}
	}
	relax := func(i, x, y, dx, dy int, cost float32) {
		if x+dx >= 0 && x+dx < w && y+dy >= 0 && y+dy < h {
			d[i] = min(d[i], d[i+dy*w+dx]+cost)
		}
	}
	pass := func(i, x, y, k int) {
		relax(i, x, y, -k, 0, side)
		relax(i, x, y, -k, -k, diagonal)
		relax(i, x, y, 0, -k, side)
		relax(i, x, y, k, -k, diagonal)
	}
	for i := range d {
		pass(i, i%w, i/w, 1)
	}
	for i := len(d) - 1; i >= 0; i-- {
		pass(i, i%w, i/w, -1)
	}
	return d
}
