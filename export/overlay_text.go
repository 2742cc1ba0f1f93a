package export

import (
	"image/color"

	"hidechart/hide"
)

// warnGround is a light yellow: black on it has the contrast of black on white.
var warnGround = color.RGBA{255, 236, 150, 255}

// drawTitle draws the hide and its area, and the flags as a warning.
func (p *overlayPlan) drawTitle(b brush, l *lettering) {
	c := p.capital
	x, width := 1.5*c, float64(p.size.X)-3*c
	name := l.short(p.title[0], 1.8*c, true, width)
	l.write(b.im, spot{x, p.titleY + 1.8*c}, name, 1.8*c, true, black)
	rest := hideRest(p.chart)
	if left := width - l.width(name, 1.8*c, true) - 1.5*c; left > 8*c && rest != "" {
		l.write(b.im, spot{x + width - left, p.titleY + 1.8*c}, l.short(rest, c, false, left), c, false, black)
	}
	size := 1.5 * c
	if w := l.width(p.title[1], size, true); w > width {
		size *= width / w // a narrow picture: smaller beats cut off
	}
	l.write(b.im, spot{x, p.titleY + 4.5*c}, p.title[1], size, true, black)
	if len(p.flags) == 0 {
		return
	}
	band := frame{0.8 * c, p.flagsY, float64(p.size.X) - 0.8*c, p.flagsY + float64(len(p.flags))*lineStep*c + 0.9*c}
	b.panel(band, warnGround, black, 0.12*c)
	for i, s := range p.flags {
		l.write(b.im, spot{x, p.flagsY + c*(1.5+lineStep*float64(i))}, s, c, true, black)
	}
}

// hideRest is supplier, lot and article, for the right of the title.
func hideRest(c hide.Chart) string {
	c.Capture.ID = ""
	s := hideTitle(c)
	if len(s) < len("hide, ") {
		return ""
	}
	return s[len("hide, "):]
}

// drawFoot draws the scale bar of half a metre, says what the grid is, and the
// caution.
func (p *overlayPlan) drawFoot(b brush, l *lettering) {
	c := p.capital
	length := 500 / float64(p.grid.MMPerPX)
	x, y := p.mapAt.x0, p.mapAt.y1+3.1*c
	for i := range 5 { // black and white by turns, a decimetre each
		f := frame{x + length*float64(i)/5, y - 0.4*c, x + length*float64(i+1)/5, y + 0.4*c}
		fill := white
		if i%2 == 0 {
			fill = black
		}
		b.panel(f, fill, black, 0.08*c)
	}
	text := l.short("500 mm  ·  grid: 1 dm, figures in dm on the table", c, false, p.mapAt.x1-x-length-c)
	l.write(b.im, spot{x + length + c, y + c/2}, text, c, false, black)
	for i, s := range p.caution {
		l.write(b.im, spot{1.5 * c, p.cautionY + c*(1.2+lineStep*float64(i))}, s, c, false, black)
	}
}

func (p *overlayPlan) drawLegend(b brush, l *lettering) {
	c, at := p.capital, p.legendAt
	step := at.width() / float64(p.columns)
	rows := max(p.legendRows(), 1)
	for i, e := range p.legend {
		x, y := at.x0+step*float64(i/rows), at.y0+legendStep*c*(float64(i%rows)+0.5)
		b.symbol(e.kind, spot{x + 0.9*c, y}, 0.85*c)
		l.write(b.im, spot{x + 2.3*c, y + c/2}, l.short(e.text, c, false, step-2.6*c), c, false, black)
	}
	y := at.y0 + c*(legendStep*float64(p.legendRows())+0.6)
	for i, s := range p.notes {
		l.write(b.im, spot{at.x0, y + c*(1.2+lineStep*float64(i))}, s, c, false, black)
	}
}
