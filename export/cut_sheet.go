package export

import (
	"fmt"
	"image/color"
	"io"
	"math"
	"time"

	"github.com/tdewolff/canvas"

	"hidechart/hide"
)

// cutDay is the creation date of every cut plan's PDF: the same plan is the same bytes on any day.
var cutDay = time.Date(2000, time.January, 1, 0, 0, 0, 0, time.UTC)

// drawnScale maps the table onto a page: (x, y) of the page is table × scale + shift.
type drawnScale struct{ scale, dx, dy float64 }

func (m drawnScale) at(q hide.Point) (x, y float64) {
	return float64(q.X)*m.scale + m.dx, float64(q.Y)*m.scale + m.dy
}

// path draws a shape; outer rings and holes run opposite ways, so that either fill
// rule leaves the holes open.
func (m drawnScale) path(s hide.Shape) *canvas.Path {
	out := &canvas.Path{}
	for _, p := range orientedShape(s) {
		for _, r := range append([]hide.Ring{p.Outer}, p.Holes...) {
			for i, q := range r {
				x, y := m.at(q)
				if i == 0 {
					out.MoveTo(x, y)
				} else {
					out.LineTo(x, y)
				}
			}
			out.Close()
		}
	}
	return out
}

// stroke draws the edge of a path, its width in mm on paper; dashes may be none.
func (p *paper) stroke(path *canvas.Path, width float64, c color.Color, dashes ...float64) {
	p.ctx.Push()
	p.ctx.SetFill(canvas.Transparent)
	p.ctx.SetStrokeColor(c)
	p.ctx.SetStrokeWidth(width)
	p.ctx.SetDashes(0, dashes...)
	p.ctx.DrawPath(0, 0, path)
	p.ctx.Pop()
}

// tint lightens a colour for a fill that lines and figures stay readable on.
func tint(c color.RGBA) color.RGBA {
	light := func(v uint8) uint8 { return uint8(255 - (255-int(v))*2/5) } // two fifths of the ink
	return color.RGBA{light(c.R), light(c.G), light(c.B), 255}
}

func qualityTint(i int) color.RGBA {
	return tint([]color.RGBA{bluishGreen, skyBlue, yellow, orange}[min(i, 3)])
}

// scaleFor is the largest common scale 1:n at which the hide fits.
func scaleFor(b box, width, height float64) (n float64) {
	need := max((b.maxX-b.minX)/width, (b.maxY-b.minY)/height)
	for _, n := range []float64{1, 2, 2.5, 5, 7.5, 10, 12.5, 15, 20, 25, 30, 40, 50, 75, 100} { // scales found on rulers
		if n >= need {
			return n
		}
	}
	return math.Ceil(need)
}

// sheetBar is a bar of a round length, mm on the table, at least 40 mm on paper.
func sheetBar(n float64) float64 {
	for _, l := range []float64{50, 100, 200, 250, 500, 1000, 2000} {
		if l/n >= 40 {
			return l
		}
	}
	return 5000
}

// WriteCutSheet writes one page for the cutter: the hide at a common scale with a
// bar, cuttable leather by quality, the pieces with their numbers, the list of
// pieces, figures and cautions. Paper from the options, lying. Errors: Invalid.
func WriteCutSheet(w io.Writer, plan CutPlan, o CutOptions) error {
	size, err := lying(plan, o)
	if err != nil {
		return err
	}
	p, err := newPaper(size, plan.title())
	if err != nil {
		return err
	}
	const column, head, foot, gap = 68.0, 12.0, 22.0, 5.0 // text beside, title above, bar and cautions below, mm
	b := plan.box()
	width, height := size.width-2*pageMargin-column-gap, size.height-2*pageMargin-head-foot
	n := scaleFor(b, width, height)
	m := drawnScale{scale: 1 / n}
	m.dx = pageMargin + (width-(b.maxX-b.minX)/n)/2 - b.minX/n
	m.dy = pageMargin + foot + (height-(b.maxY-b.minY)/n)/2 - b.minY/n
	p.text(pageMargin, size.height-pageMargin-5, p.fit(plan.title(), 5, size.width-2*pageMargin), true, canvas.Left, plan.title())
	p.planAreas(plan, m)
	p.planLines(plan, m, 0.25)
	p.sheetBarAt(pageMargin, pageMargin+foot-5, n)
	p.textBox(pageMargin+80, pageMargin+foot-2, size.width-2*pageMargin-80, 2.6, false, knifeCaution())
	p.sheetList(plan, size.width-pageMargin-column, size.height-pageMargin-head, column, n)
	return p.finish(w, cutDay)
}

func lying(plan CutPlan, o CutOptions) (paperSize, error) {
	if err := plan.check(); err != nil {
		return paperSize{}, err
	}
	upright, err := TagSheet{Paper: o.Paper}.size()
	return paperSize{upright.height, upright.width}, err
}

// planAreas fills the hide and its qualities.
func (p *paper) planAreas(plan CutPlan, m drawnScale) {
	p.fill(m.path(hide.Shape{plan.Outline}), color.Gray{Y: 225})
	if plan.Quality == nil {
		p.fill(m.path(plan.Cuttable), color.White)
	}
	for i, q := range plan.Quality {
		p.fill(m.path(q.Shape), qualityTint(i))
	}
}

// planLines draws the edges and the pieces; width is the line of a piece on paper.
func (p *paper) planLines(plan CutPlan, m drawnScale, width float64) {
	p.stroke(m.path(hide.Shape{plan.Outline}), 1.6*width, canvas.Black)
	p.stroke(m.path(plan.Cuttable), 0.6*width, canvas.Black, 4*width, 3*width)
	if n := plan.Backbone; n[0] != n[1] {
		p.segment(m, n, 0.8*width, markGrey)
	}
	for i, q := range plan.Pieces {
		p.fill(m.path(hide.Shape{q.Shape}), color.White)
		p.stroke(m.path(hide.Shape{q.Shape}), width, canvas.Black)
		if q.Grain != nil {
			p.segment(m, *q.Grain, 0.6*width, markGrey)
		}
		cx, cy := middleOf(q.Shape.Outer)
		x, y := m.at(hide.Point{X: hide.MM(cx), Y: hide.MM(cy)})
		b := emptyBox().withRing(q.Shape.Outer)
		size := min(4.0, max(1.6, 0.5*m.scale*min(b.maxX-b.minX, b.maxY-b.minY))) // legible, and inside the piece
		p.text(x, y-size/3, size, true, canvas.Center, fmt.Sprint(i+1))
	}
	if n := plan.Backbone; n[0] != n[1] { // over the pieces
		x, y := m.at(n[0])
		p.text(x, y+1, 3, true, canvas.Center, "HEAD")
	}
}

func (p *paper) segment(m drawnScale, l [2]hide.Point, width float64, c color.Color) {
	x0, y0 := m.at(l[0])
	x1, y1 := m.at(l[1])
	p.line(x0, y0, x1, y1, width, c)
}

// sheetBarAt draws a bar that is so long on the table.
func (p *paper) sheetBarAt(x, y, n float64) {
	length := sheetBar(n)
	p.line(x, y, x+length/n, y, 0.4, canvas.Black)
	for i := range 6 {
		at := x + float64(i)*length/n/5
		p.line(at, y-1.5, at, y, 0.25, canvas.Black)
	}
	p.text(x, y-5.5, 3, false, canvas.Left, "0")
	p.text(x+length/n, y-5.5, 3, false, canvas.Center, fmt.Sprintf("%g mm", length))
	p.text(x, y+1.5, 3, true, canvas.Left, fmt.Sprintf("scale 1:%g printed at 100 %%", n))
}

// sheetList writes the legend, the pieces and the notes into a column.
func (p *paper) sheetList(plan CutPlan, x, y, width, n float64) {
	for i, q := range plan.Quality {
		box := canvas.Rectangle(5, 3).Translate(x, y-3)
		p.fill(box, qualityTint(i))
		p.stroke(box, 0.15, canvas.Black)
		y -= max(4, p.textBox(x+7, y, width-7, 2.8, false, oneLine(fmt.Sprintf("%s (%.1f dm²): %s", q.Name, q.Shape.Area().DM2(), q.Words)))) + 1
	}
	box := canvas.Rectangle(5, 3).Translate(x, y-3)
	p.fill(box, color.Gray{Y: 225})
	p.stroke(box, 0.15, canvas.Black)
	y -= max(4, p.textBox(x+7, y, width-7, 2.8, false, "not to be cut: flaws with their margin, the edge")) + 2
	lines := append([]string{}, plan.Notes...)
	if len(plan.Pieces) > 0 {
		lines = append(lines, fmt.Sprintf("%d pieces laid:", len(plan.Pieces)))
		lines = append(lines, pieceCounts(plan.Pieces)...)
	}
	const bottom = pageMargin + 24 // above the cautions
	for i, l := range lines {
		if y < bottom+4 {
			p.text(x, bottom, 2.8, false, canvas.Left, fmt.Sprintf("… and %d lines more, see the drawing files", len(lines)-i))
			break
		}
		y -= p.textBox(x, y, width, 2.8, false, oneLine(l)) + 1
	}
}
