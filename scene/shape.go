package scene

import (
	"image"
	"math"

	"hidechart/hide"
	"hidechart/pix"
)

// spot is a place on the table a shape visits: raster index, table position
// and the shape's own coordinates (see each shape).
type spot struct {
	i    int
	x, y float64
	p, q float64
}

// shape is a set of places with coordinates of their own. It visits each
// pixel of a grid within its reach once.
type shape interface {
	visit(g pix.Grid, do func(spot))
}

// part is one piece of a mark: where, what it does to the surface, and where
// it counts as the defect (nil: nowhere).
type part struct {
	shape  shape
	ink    func(spot) ink
	marked func(spot) bool
}

// paint puts the parts on the surface and returns the strongest relative
// change of green reflectance and of height (mm) among them.
func (k *skin) paint(parts []part) (tone, height float64) {
	for _, p := range parts {
		p.shape.visit(k.grid, func(s spot) {
			a := p.ink(s)
			k.dab(s.i, a)
			tone = math.Max(tone, math.Abs(a.colour[1]-1))
			height = math.Max(height, math.Abs(a.dh))
		})
	}
	return tone, height
}

// line is a polyline with a reach: p is the signed distance across, mm,
// positive to the left, q the way along, mm.
type line struct {
	points []hide.Point
	reach  float64
}

func (l line) length() float64 {
	sum := 0.0
	for i := 1; i < len(l.points); i++ {
		sum += float64(l.points[i-1].Distance(l.points[i]))
	}
	return sum
}

// window is the part of the grid within reach of the points.
func window(g pix.Grid, points []hide.Point, reach float64) image.Rectangle {
	part := g.Around(hide.Ring(points), hide.MM(reach))
	x := int(math.Round(float64((part.Left - g.Left) / g.MMPerPX)))
	y := int(math.Round(float64((g.Top - part.Top) / g.MMPerPX)))
	return image.Rect(x, y, x+max(part.Width, 0), y+max(part.Height, 0))
}

func (l line) visit(g pix.Grid, do func(spot)) {
	box := window(g, l.points, l.reach)
	if box.Empty() {
		return
	}
	w := box.Dx()
	across, along := make([]float32, w*box.Dy()), make([]float32, w*box.Dy())
	for i := range across {
		across[i] = float32(math.Inf(1))
	}
	s := 0.0
	for i := 1; i < len(l.points); i++ {
		a, b := l.points[i-1], l.points[i]
		l.segment(g, box, a, b, s, across, along)
		s += float64(a.Distance(b))
	}
	for i, d := range across {
		if math.Abs(float64(d)) > l.reach {
			continue
		}
		c, r := box.Min.X+i%w, box.Min.Y+i/w
		t := g.ToTable(pix.Point{X: hide.PX(c), Y: hide.PX(r)})
		do(spot{r*g.Width + c, float64(t.X), float64(t.Y), float64(d), float64(along[i])})
	}
}

// segment notes the distance to one segment where it is the nearest so far.
func (l line) segment(g pix.Grid, box image.Rectangle, a, b hide.Point, s float64, across, along []float32) {
	ax, ay := float64(a.X), float64(a.Y)
	dx, dy := float64(b.X)-ax, float64(b.Y)-ay
	length := math.Hypot(dx, dy)
	if length == 0 {
		return
	}
	dx, dy = dx/length, dy/length
	part := window(g, []hide.Point{a, b}, l.reach).Intersect(box)
	for r := part.Min.Y; r < part.Max.Y; r++ {
		for c := part.Min.X; c < part.Max.X; c++ {
			t := g.ToTable(pix.Point{X: hide.PX(c), Y: hide.PX(r)})
			px, py := float64(t.X)-ax, float64(t.Y)-ay
			u := clamp(px*dx+py*dy, 0, length)
			d := math.Hypot(px-u*dx, py-u*dy)
			i := (r-box.Min.Y)*box.Dx() + c - box.Min.X
			if d < math.Abs(float64(across[i])) {
				if dx*py-dy*px < 0 {
					d = -d
				}
				across[i], along[i] = float32(d), float32(s+u)
			}
		}
	}
}

// blob is a round or elongated shape with a wavy border: p is the distance
// from the centre relative to the border (1 on it), q the angle.
type blob struct {
	at     hide.Point
	rx, ry float64 // half axes, mm
	angle  float64
	wavy   float64 // relative amplitude of the border
	seed   uint32
	reach  float64 // in units of p
	lobes  float64 // how many waves go round, about
}

func (b blob) visit(g pix.Grid, do func(spot)) {
	far := math.Max(b.rx, b.ry) * b.reach * (1 + 1.6*b.wavy)
	box := window(g, []hide.Point{b.at}, far)
	sin, cos := math.Sincos(b.angle)
	for r := box.Min.Y; r < box.Max.Y; r++ {
		for c := box.Min.X; c < box.Max.X; c++ {
			t := g.ToTable(pix.Point{X: hide.PX(c), Y: hide.PX(r)})
			dx, dy := float64(t.X-b.at.X), float64(t.Y-b.at.Y)
			u, v := (dx*cos+dy*sin)/b.rx, (-dx*sin+dy*cos)/b.ry
			p, q := math.Hypot(u, v), math.Atan2(v, u)
			p /= b.border(q)
			if p <= b.reach {
				do(spot{r*g.Width + c, float64(t.X), float64(t.Y), p, q})
			}
		}
	}
}

// border is the relative radius at an angle, smooth around the circle.
func (b blob) border(angle float64) float64 {
	if b.wavy == 0 {
		return 1
	}
	sin, cos := math.Sincos(angle)
	k := b.lobes / 3
	return math.Max(.25, 1+b.wavy*fractal(k*cos+11.5, k*sin+3.5, b.seed, 3, .6))
}

// ring is the border as a polygon, counter-clockwise.
func (b blob) ring() hide.Ring {
	n := int(clamp(2*math.Pi*math.Max(b.rx, b.ry)/.7, 16, 400)) // 0.7 mm a side
	sin, cos := math.Sincos(b.angle)
	out := make(hide.Ring, n)
	for i := range out {
		a := 2 * math.Pi * float64(i) / float64(n)
		s, c := math.Sincos(a)
		f := b.border(a)
		u, v := f*c*b.rx, f*s*b.ry
		out[i] = hide.Point{X: b.at.X + hide.MM(u*cos-v*sin), Y: b.at.Y + hide.MM(u*sin+v*cos)}
	}
	return out
}
