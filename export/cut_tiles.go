package export

import (
	"fmt"
	"io"
	"math"

	"github.com/tdewolff/canvas"

	"hidechart/hide"
)

// mostTiles bounds a file: 5 m² on A4 with margins are some 130 pages; more is a
// slip.
const mostTiles = 600

// WriteCutTiles writes the hide at full size on many pages: page 1 shows how they
// lie, each other page is named by its row (letter) and column (number), has marks
// where its neighbours' corners lie, and shows the overlap twice. Pages without
// leather are left out. Errors: Invalid for paper unknown, an overlap that eats the
// page, too many pages.
func WriteCutTiles(w io.Writer, plan CutPlan, o CutOptions) error {
	size, err := lying(plan, o)
	if err != nil {
		return err
	}
	t := tiling{size: size, b: plan.box(), overlap: float64(o.OverlapM)}
	t.stepX, t.stepY = size.width-2*pageMargin-t.overlap, size.height-2*pageMargin-t.overlap
	if !(t.overlap >= 0) || t.stepX < 50 || t.stepY < 50 {
		return hide.Faultf(hide.Invalid, "tiles: an overlap of %g mm on %s", t.overlap, o.Paper)
	}
	t.cols = max(1, int(math.Ceil((t.b.maxX-t.b.minX-t.overlap)/t.stepX)))
	t.rows = max(1, int(math.Ceil((t.b.maxY-t.b.minY-t.overlap)/t.stepY)))
	if t.cols*t.rows > mostTiles {
		return hide.Faultf(hide.Invalid, "tiles: %d pages of %s, at most %d", t.cols*t.rows, o.Paper, mostTiles)
	}
	p, err := newPaper(size, plan.title()+", full size")
	if err != nil {
		return err
	}
	p.tileMap(plan, t)
	for r := range t.rows {
		for c := range t.cols {
			if t.used(plan, r, c) {
				p.newPage(size)
				p.tile(plan, t, r, c)
			}
		}
	}
	return p.finish(w, cutDay)
}

// tiling is how pages lie on the table, from the upper left.
type tiling struct {
	size         paperSize
	b            box
	overlap      float64
	stepX, stepY float64
	rows, cols   int
}

// name of a tile: row A, B, … Z, AA, …; column from 1.
func (t tiling) name(r, c int) string {
	letters := ""
	for r++; r > 0; r = (r - 1) / 26 {
		letters = string(rune('A'+(r-1)%26)) + letters
	}
	return fmt.Sprintf("%s%d", letters, c+1)
}

// area of the table that a tile shows.
func (t tiling) area(r, c int) box {
	x, y := t.b.minX+float64(c)*t.stepX, t.b.maxY-float64(r)*t.stepY
	return box{x, y - t.stepY - t.overlap, x + t.stepX + t.overlap, y}
}

// used: the hide's or a piece's box edge or inside reaches into the tile.
func (t tiling) used(plan CutPlan, r, c int) bool {
	a := t.area(r, c)
	for _, q := range plan.Outline.Outer {
		if x, y := float64(q.X), float64(q.Y); x >= a.minX && x <= a.maxX && y >= a.minY && y <= a.maxY {
			return true
		}
	}
	// no vertex in it: an edge may cross it, or it lies wholly in the hide
	clip := drawnScale{scale: 1}.path(hide.Shape{plan.Outline}).And(canvas.Rectangle(a.maxX-a.minX, a.maxY-a.minY).Translate(a.minX, a.minY))
	return !clip.Empty()
}

// tile draws one page: the plan shifted, clipped by the page's margin through
// white bands over it.
func (p *paper) tile(plan CutPlan, t tiling, r, c int) {
	a := t.area(r, c)
	m := drawnScale{scale: 1, dx: pageMargin - a.minX, dy: pageMargin - a.minY}
	p.planLines(plan, m, 0.4) // no fills: they would cost ink on each page
	w, h := t.size.width, t.size.height
	const over = 5.0 // beyond the page: its rim is white too
	for _, band := range []box{{-over, -over, w + over, pageMargin}, {-over, h - pageMargin, w + over, h + over}, {-over, -over, pageMargin, h + over},
		{w - pageMargin, -over, w + over, h + over}} {
		p.fill(canvas.Rectangle(band.maxX-band.minX, band.maxY-band.minY).Translate(band.minX, band.minY), canvas.White)
	}
	p.stroke(canvas.Rectangle(w-2*pageMargin, h-2*pageMargin).Translate(pageMargin, pageMargin), 0.1, markGrey)
	p.tileMarks(t)
	p.text(pageMargin, h-pageMargin+2, 4, true, canvas.Left, t.name(r, c))
	p.text(w-pageMargin, h-pageMargin+2, 3, false, canvas.Right, fmt.Sprintf("%s · 1:1 · overlap %g mm", plan.title(), t.overlap))
	p.text(pageMargin, 4, 2.6, false, canvas.Left, fmt.Sprintf("lower left corner at %.1f, %.1f mm on the table · bar 100 mm:", a.minX, a.minY))
	p.line(w-pageMargin-barLength, 5, w-pageMargin, 5, 0.3, canvas.Black)
	for _, x := range []float64{w - pageMargin - barLength, w - pageMargin} {
		p.line(x, 3.5, x, 6.5, 0.3, canvas.Black)
	}
}

// tileMarks draws crosses where the corners of the neighbours' frames lie: laid on
// one another, they make one cross.
func (p *paper) tileMarks(t tiling) {
	w, h := t.size.width-2*pageMargin, t.size.height-2*pageMargin
	const arm = 5.0
	for _, x := range []float64{t.overlap / 2, w - t.overlap/2} {
		for _, y := range []float64{t.overlap / 2, h - t.overlap/2} {
			x, y := pageMargin+x, pageMargin+y
			p.line(x-arm, y, x+arm, y, 0.2, canvas.Black)
			p.line(x, y-arm, x, y+arm, 0.2, canvas.Black)
		}
	}
}

// tileMap is page 1.
func (p *paper) tileMap(plan CutPlan, t tiling) {
	w, h := t.size.width, t.size.height
	last := t.area(t.rows-1, t.cols-1)
	whole := box{t.b.minX, last.minY, last.maxX, t.b.maxY}
	const head, foot = 24.0, 30.0
	n := max((whole.maxX-whole.minX)/(w-2*pageMargin), (whole.maxY-whole.minY)/(h-2*pageMargin-head-foot))
	m := drawnScale{scale: 1 / n, dx: pageMargin - whole.minX/n, dy: pageMargin + foot - whole.minY/n}
	title := plan.title() + ", full size"
	p.text(pageMargin, h-pageMargin-5, p.fit(title, 5, w-2*pageMargin), true, canvas.Left, title)
	p.textBox(pageMargin, h-pageMargin-8, w-2*pageMargin, 3, false, "Print at 100 % (no fitting to the page). The bar at the foot of each page must measure 100.0 mm, "+
		"within 0.3 mm; else the pieces are wrong. Lay the pages so that their crosses meet, and tape them.")
	p.planAreas(plan, m)
	p.planLines(plan, m, 0.15)
	for r := range t.rows {
		for c := range t.cols {
			if !t.used(plan, r, c) {
				continue
			}
			a := t.area(r, c)
			x, y := m.at(hide.Point{X: hide.MM(a.minX), Y: hide.MM(a.minY)})
			p.stroke(canvas.Rectangle((a.maxX-a.minX)/n, (a.maxY-a.minY)/n).Translate(x, y), 0.1, canvas.Black)
			p.text(x+1, y+1, min(4, 0.3*t.stepY/n), true, canvas.Left, t.name(r, c))
		}
	}
	p.textBox(pageMargin, pageMargin+foot-4, w-2*pageMargin, 2.8, false, knifeCaution())
}
