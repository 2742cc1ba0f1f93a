package export

import (
	"image"
	"image/color"
	"image/draw"
	"math"
	"runtime"

	"golang.org/x/image/vector"
	"golang.org/x/sync/errgroup"
)

// spot is a place in a picture: pixels, x right, y down.
type spot struct{ x, y float64 }

func (a spot) plus(b spot) spot               { return spot{a.x + b.x, a.y + b.y} }
func (a spot) minus(b spot) spot              { return spot{a.x - b.x, a.y - b.y} }
func (a spot) times(s float64) spot           { return spot{a.x * s, a.y * s} }
func (a spot) distance(b spot) float64        { return math.Hypot(a.x-b.x, a.y-b.y) }
func (a spot) toward(b spot) spot             { return b.minus(a).times(1 / max(a.distance(b), 1e-9)) }
func (a spot) across() spot                   { return spot{-a.y, a.x} }
func (a spot) between(b spot, s float64) spot { return a.plus(b.minus(a).times(s)) }

// frame is an upright rectangle in a picture.
type frame struct{ x0, y0, x1, y1 float64 }

func frameAround(c spot, width, height float64) frame {
	return frame{c.x - width/2, c.y - height/2, c.x + width/2, c.y + height/2}
}

func (f frame) centre() spot          { return spot{(f.x0 + f.x1) / 2, (f.y0 + f.y1) / 2} }
func (f frame) width() float64        { return f.x1 - f.x0 }
func (f frame) height() float64       { return f.y1 - f.y0 }
func (f frame) grown(d float64) frame { return frame{f.x0 - d, f.y0 - d, f.x1 + d, f.y1 + d} }
func (f frame) meets(g frame) bool    { return f.x0 < g.x1 && g.x0 < f.x1 && f.y0 < g.y1 && g.y0 < f.y1 }
func (f frame) within(g frame) bool {
	return f.x0 >= g.x0 && f.y0 >= g.y0 && f.x1 <= g.x1 && f.y1 <= g.y1
}
func (f frame) corners() []spot {
	return []spot{{f.x0, f.y0}, {f.x1, f.y0}, {f.x1, f.y1}, {f.x0, f.y1}}
}
func (f frame) nearest(p spot) spot {
	return spot{min(max(p.x, f.x0), f.x1), min(max(p.y, f.y0), f.y1)}
}
func (f frame) with(p spot) frame {
	return frame{min(f.x0, p.x), min(f.y0, p.y), max(f.x1, p.x), max(f.y1, p.y)}
}
func noFrame() frame { return frame{math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)} }

var (
	black = color.RGBA{0, 0, 0, 255}
	white = color.RGBA{255, 255, 255, 255}
)

// sheer is a colour of which the given share covers (RGBA is premultiplied).
func sheer(c color.RGBA, share float64) color.RGBA {
	m := func(v uint8) uint8 { return uint8(math.Round(float64(v) * share)) }
	return color.RGBA{m(c.R), m(c.G), m(c.B), m(255)}
}

// brush paints antialiased shapes on a picture.
type brush struct{ im *image.RGBA }

// touched is the part of the picture that closed rings touch.
func (b brush) touched(rings [][]spot) image.Rectangle {
	f := noFrame()
	for _, r := range rings {
		of := around(r)
		f = f.with(spot{of.x0, of.y0}).with(spot{of.x1, of.y1})
	}
	if math.IsInf(f.x0, 1) {
		return image.Rectangle{}
	}
	limit := b.im.Bounds()
	clip := func(v float64, most int) int { return int(min(max(v, -1), float64(most)+1)) }
	return image.Rect(clip(math.Floor(f.x0), limit.Max.X), clip(math.Floor(f.y0), limit.Max.Y),
		clip(math.Ceil(f.x1)+1, limit.Max.X), clip(math.Ceil(f.y1)+1, limit.Max.Y)).Intersect(limit)
}

// lay puts closed rings (non-zero winding) into a rasteriser of a cover's size.
func lay(r *vector.Rasterizer, rings []boxed, part, cover image.Rectangle) {
	r.Reset(cover.Dx(), cover.Dy())
	for _, ring := range rings {
		for i, p := range ring.ring {
			x, y := float32(p.x-float64(part.Min.X)), float32(p.y-float64(part.Min.Y))
			if i == 0 {
				r.MoveTo(x, y)
			} else {
				r.LineTo(x, y)
			}
		}
		r.ClosePath()
	}
}

// cover writes how far rings cover a part of the picture, 0 to 255.
func cover(m *image.Alpha, r *vector.Rasterizer, rings []boxed, part image.Rectangle) {
	lay(r, rings, part, m.Rect)
	r.DrawOp = draw.Src
	r.Draw(m, m.Rect, image.Opaque, image.Point{}) // all of it: vector instructions do that
}

// Tiles that a shape is filled in, rows of them on all cores: a tile's sums stay in the cache, and
// those that a line passes by cost nothing. Up to 512 pixels of width a rasteriser adds up in whole
// numbers, by which lines that start far outside stray: a tile of a wider shape is wider than that.
const tileWide, tileHigh = 513, 64

func (b brush) fill(c color.RGBA, rings ...[]spot) {
	part, paint := b.touched(rings), image.NewUniform(c)
	width := min(part.Dx(), tileWide)
	all := boxes(rings)
	var group errgroup.Group
	group.SetLimit(runtime.GOMAXPROCS(0))
	for y := part.Min.Y; y < part.Max.Y; y += tileHigh {
		row := image.Rect(part.Min.X, y, part.Max.X, y+tileHigh).Intersect(part)
		group.Go(func() error {
			var r vector.Rasterizer
			in, m := meeting(all, row), image.NewAlpha(image.Rect(0, 0, width, row.Dy()))
			for x := row.Min.X; x < row.Max.X && len(in) > 0; x += tileWide {
				tile := image.Rect(x, row.Min.Y, x+tileWide, row.Max.Y).Intersect(row)
				if here := meeting(in, tile); len(here) > 0 {
					cover(m, &r, here, tile)
					draw.DrawMask(b.im, tile, paint, image.Point{}, m, image.Point{}, draw.Over)
				}
			}
			return nil
		})
	}
	_ = group.Wait() // none of them fails
}

// boxed is a ring with the upright rectangle around it.
type boxed struct {
	ring []spot
	box  frame
}

func boxes(rings [][]spot) []boxed {
	out := make([]boxed, len(rings))
	for i, r := range rings {
		out[i] = boxed{r, around(r)}
	}
	return out
}

// meeting are the rings that may touch a part of the picture.
func meeting(rings []boxed, part image.Rectangle) []boxed {
	at := frame{float64(part.Min.X), float64(part.Min.Y), float64(part.Max.X), float64(part.Max.Y)}
	var in []boxed
	for _, r := range rings {
		if r.box.meets(at) {
			in = append(in, r)
		}
	}
	return in
}

// mask is the rings' cover, 0 to 255, over part of the picture.
func (b brush) mask(rings [][]spot) (*image.Alpha, image.Rectangle) {
	part := b.touched(rings)
	if part.Empty() {
		return nil, part
	}
	m := image.NewAlpha(image.Rect(0, 0, part.Dx(), part.Dy()))
	cover(m, new(vector.Rasterizer), boxes(rings), part)
	return m, part
}

// line is a path to stroke.
type line struct {
	at     []spot
	closed bool
}

// stroke draws lines with round joins and ends; dash 0 is a solid line, else the
// length of dashes and gaps.
func (b brush) stroke(c color.RGBA, width, dash float64, lines ...line) {
	var rings [][]spot
	for _, l := range lines {
		at := thinned(l)
		if dash == 0 {
			rings = append(rings, ribbon(at, width)...)
			continue
		}
		for _, piece := range dashes(at, dash) {
			rings = append(rings, ribbon(piece, width)...)
		}
	}
	b.fill(c, rings...)
}

// thinned drops vertices that lie closer than a third of a pixel to the last
// kept one, and closes the line.
func thinned(l line) []spot {
	var out []spot
	for i, p := range l.at {
		if len(out) == 0 || out[len(out)-1].distance(p) > 1.0/3 || !l.closed && i == len(l.at)-1 {
			out = append(out, p)
		}
	}
	if l.closed && len(out) > 0 {
		out = append(out, out[0])
	}
	return out
}

// ribbon covers a line with a quadrangle a segment and a disc a vertex, all
// running the same way round, so that overlaps add up to "inside".
func ribbon(at []spot, width float64) [][]spot {
	var rings [][]spot
	h := width / 2
	for i, p := range at {
		rings = append(rings, disc(p, h))
		if i == 0 {
			continue
		}
		q := at[i-1]
		n := q.toward(p).across().times(h)
		rings = append(rings, []spot{q.plus(n), p.plus(n), p.minus(n), q.minus(n)})
	}
	return rings
}

// disc runs the way of ribbon's quadrangles; its corners are a quarter pixel
// off the circle at most.
func disc(c spot, radius float64) []spot {
	n := max(8, int(math.Ceil(math.Pi/math.Acos(1-min(0.25/max(radius, 0.5), 1)))))
	out := make([]spot, n)
	for i := range out {
		a := -2 * math.Pi * float64(i) / float64(n)
		out[i] = spot{c.x + radius*math.Cos(a), c.y + radius*math.Sin(a)}
	}
	return out
}

// dashes cuts a line into pieces as long as the gaps between them.
func dashes(at []spot, length float64) [][]spot {
	var out [][]spot
	left, on := length, true
	var piece []spot
	for i := 1; i < len(at); i++ {
		p, q := at[i-1], at[i]
		if on && len(piece) == 0 {
			piece = []spot{p}
		}
		for p.distance(q) > left {
			p = p.between(q, left/p.distance(q))
			if on {
				out = append(out, append(piece, p))
				piece = nil
			} else {
				piece = []spot{p}
			}
			on, left = !on, length
		}
		left -= p.distance(q)
		if on {
			piece = append(piece, q)
		}
	}
	if len(piece) > 1 {
		out = append(out, piece)
	}
	return out
}

// cased strokes a colour between black edges within a white halo: one of the
// three stands out against any leather.
func (b brush) cased(c color.RGBA, width, edge, dash float64, lines ...line) {
	b.stroke(sheer(white, 0.9), width+4*edge, 0, lines...)
	b.stroke(black, width+2*edge, dash, lines...)
	b.stroke(c, width, dash, lines...)
}

func (b brush) panel(f frame, fill, edge color.RGBA, width float64) {
	b.fill(fill, f.corners())
	b.stroke(edge, width, 0, line{f.corners(), true})
}
