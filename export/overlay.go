package export

import (
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"io"
	"math"

	"hidechart/hide"
	"hidechart/pix"
)

// Overlay writes the picture for the cutter as a PNG of about 3000 pixels: the photograph
// toned down, the outline, every defect that was not rejected with its symbol
// and number, a grid of decimetres, the head end, a legend, the area, flags and a
// caution. photo is U8 BGR on grid, borrowed; nil draws on plain ground. The
// same chart and photograph give the same bytes.
//
// Capitals are at least 1/60 of the picture's height (see leastCapital).
//
// Errors: Invalid for a chart without an area or a photograph that does not fit
// its grid; Internal from the writer.
func Overlay(w io.Writer, chart hide.Chart, photo *pix.Image, grid pix.Grid) error {
	im, err := drawOverlay(chart, Photo{Image: photo, Grid: grid})
	if err != nil {
		return err
	}
	return writePNG(w, im)
}

// writePNG with little effort: a photograph barely shrinks further with more.
func writePNG(w io.Writer, im *image.RGBA) error {
	data, err := pix.EncodePNG(im)
	if err != nil {
		return err
	}
	if _, err := w.Write(data); err != nil {
		return hide.Wrapf(hide.Internal, err, "write PNG")
	}
	return nil
}

func drawOverlay(chart hide.Chart, photo Photo) (*image.RGBA, error) {
	if !(chart.Outline.Area() > 0) {
		return nil, hide.Faultf(hide.Invalid, "overlay: the outline encloses no area")
	}
	l, err := newLettering()
	if err != nil {
		return nil, err
	}
	p := planOverlay(settled(chart), l)
	b := brush{image.NewRGBA(image.Rectangle{Max: p.size})}
	draw.Draw(b.im, b.im.Bounds(), image.White, image.Point{}, draw.Src)
	if err := p.ground(b, photo); err != nil {
		return nil, err
	}
	p.drawGrid(b, l)
	p.drawDefects(b)
	p.drawOutline(b)
	p.drawHead(b, l)
	p.drawBadges(b, l)
	p.drawTitle(b, l)
	p.drawFoot(b, l)
	p.drawLegend(b, l)
	return b.im, nil
}

// drawGrid draws a line every decimetre, a stronger one every fifth, with its
// figure outside the map.
func (p *overlayPlan) drawGrid(b brush, l *lettering) {
	c := p.capital
	near := p.grid.ToTable(pix.Point{X: -0.5, Y: hide.PX(p.grid.Height) - 0.5})
	far := p.grid.ToTable(pix.Point{X: hide.PX(p.grid.Width) - 0.5, Y: -0.5})
	rule := func(dm int, from, to hide.Point, figure func(s spot, text string)) {
		share, width := 0.22, 0.045*c
		if dm%5 == 0 {
			share, width = 0.5, 0.075*c
			figure(p.at(from), fmt.Sprint(dm))
		}
		b.stroke(sheer(black, share), max(width, 1), 0, line{at: []spot{p.at(from), p.at(to)}})
	}
	for dm := int(math.Ceil(float64(near.X) / 100)); float64(dm)*100 <= float64(far.X); dm++ {
		x := hide.MM(dm * 100)
		rule(dm, hide.Point{X: x, Y: near.Y}, hide.Point{X: x, Y: far.Y}, func(s spot, text string) {
			l.centred(b.im, spot{s.x, s.y + 1.1*c}, text, c, true, black)
		})
	}
	for dm := int(math.Ceil(float64(near.Y) / 100)); float64(dm)*100 <= float64(far.Y); dm++ {
		y := hide.MM(dm * 100)
		rule(dm, hide.Point{X: near.X, Y: y}, hide.Point{X: far.X, Y: y}, func(s spot, text string) {
			l.centred(b.im, spot{s.x - 0.5*c - l.width(text, c, true)/2, s.y}, text, c, true, black)
		})
	}
	b.stroke(black, max(0.06*c, 1), 0, line{p.mapAt.corners(), true})
}

func (p *overlayPlan) drawOutline(b brush) {
	c := p.capital
	var lines []line
	for _, r := range p.outlineRings() {
		lines = append(lines, line{r, true})
	}
	b.stroke(sheer(white, 0.9), 0.42*c, 0, lines...)
	b.stroke(black, 0.2*c, 0, lines...)
	if p.head != nil {
		back := line{at: []spot{p.at(p.chart.Backbone[0]), p.at(p.chart.Backbone[1])}}
		b.stroke(sheer(white, 0.7), 0.2*c, 0.9*c, back)
		b.stroke(sheer(black, 0.8), 0.09*c, 0.9*c, back)
	}
}

// leastDot is the radius, in capitals, below which a part of a defect is drawn as a dot: a
// bite of 2 mm would be two pixels, here it is 1.8 mm in print.
const leastDot = 0.18

func (p *overlayPlan) drawDefects(b brush) {
	c := p.capital
	for _, d := range p.shown {
		var rings [][]spot
		var lines []line
		for _, poly := range d.Geometry {
			outer := p.ring(poly.Outer)
			if f := around(outer); math.Hypot(f.width(), f.height())/2 < leastDot*c {
				outer = circle(f.centre().x, f.centre().y, leastDot*c)
				rings, lines = append(rings, outer), append(lines, line{outer, true})
				continue
			}
			rings, lines = append(rings, outer), append(lines, line{outer, true})
			for _, h := range poly.Holes {
				at := p.ring(h)
				rings, lines = append(rings, at), append(lines, line{at, true})
			}
		}
		dash := 0.0
		if unlikely(d) {
			dash = 0.4 * c
		}
		b.cased(kindColour(d.Kind), 0.12*c, 0.06*c, dash, lines...)
		p.hatch(b, d.Kind, rings)
	}
}

func around(at []spot) frame {
	f := noFrame()
	for _, q := range at {
		f = f.with(q)
	}
	return f
}

// hatch tints the shape lightly and lays the kind's hatching over it.
func (p *overlayPlan) hatch(b brush, k hide.Kind, rings [][]spot) {
	m, part := b.mask(rings)
	if m == nil {
		return
	}
	tint := kindColour(k)
	unit := 0.5 * p.capital
	for y := range part.Dy() {
		for x := range part.Dx() {
			cover := float64(m.AlphaAt(x, y).A) / 255
			if cover == 0 {
				continue
			}
			gx, gy := part.Min.X+x, part.Min.Y+y
			blend(b.im, gx, gy, tint, cover*(0.25+0.65*hatchCover(k, float64(gx), float64(gy), unit)))
		}
	}
}

func blend(im *image.RGBA, x, y int, c color.RGBA, share float64) {
	o := im.PixOffset(x, y)
	for i, v := range [3]uint8{c.R, c.G, c.B} {
		im.Pix[o+i] = uint8(math.Round(float64(im.Pix[o+i])*(1-share) + float64(v)*share))
	}
}

// drawBadges draws ties first, then rings and badges over them.
func (p *overlayPlan) drawBadges(b brush, l *lettering) {
	c := p.capital
	for _, g := range p.badges {
		if g.at == (frame{}) {
			continue
		}
		end := g.at.nearest(g.from)
		start := g.from
		if g.ring > 0 {
			start = g.centre.plus(g.centre.toward(end).times(g.ring))
		}
		b.stroke(sheer(white, 0.9), 0.26*c, 0, line{at: []spot{start, end}})
		b.stroke(black, 0.11*c, 0, line{at: []spot{start, end}})
	}
	for _, g := range p.badges {
		if g.ring > 0 {
			b.cased(kindColour(g.defect.Kind), 0.12*c, 0.06*c, 0, line{circle(g.centre.x, g.centre.y, g.ring), true})
		}
	}
	for _, g := range p.badges {
		if g.at == (frame{}) {
			continue
		}
		b.panel(g.at.grown(0.1*c), white, white, 0.05*c)
		b.panel(g.at, white, black, 0.1*c)
		b.symbol(g.defect.Kind, spot{g.at.x0 + g.capital*(badgePad+symbolHalf), g.at.centre().y}, g.capital*symbolHalf)
		l.write(b.im, spot{g.at.x0 + g.capital*(2*symbolHalf+2*badgePad), g.at.centre().y + g.capital/2}, g.text, g.capital, true, black)
	}
}

func (p *overlayPlan) drawHead(b brush, l *lettering) {
	if p.head == nil {
		return
	}
	c, h := p.capital, p.head
	out := h.from.toward(h.to)
	neck := h.to.minus(out.times(1.7 * c))
	tip := []spot{h.to, neck.plus(out.across().times(1.1 * c)), neck.minus(out.across().times(1.1 * c))}
	shaft := line{at: []spot{h.from, neck}}
	b.stroke(white, 1.0*c, 0, shaft)
	b.stroke(white, 0.5*c, 0, line{tip, true})
	b.stroke(black, 0.6*c, 0, shaft)
	b.fill(black, tip)
	b.panel(h.word, black, white, 0.15*c)
	l.centred(b.im, h.word.centre(), "HEAD", 1.5*c, true, white)
}
