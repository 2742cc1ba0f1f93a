package export

import (
	"fmt"
	"image/color"
	"io"
	"strings"
	"time"

	"github.com/tdewolff/canvas"
)

// markGrey prints cut marks and rules lighter than the tags, so that no reader
// takes them for a tag's edge.
var markGrey = color.Gray{Y: 110}

// sheetDay is the creation date of every tag sheet: tags do not age, and the
// same sheet is the same bytes.
var sheetDay = time.Date(2000, time.January, 1, 0, 0, 0, 0, time.UTC)

// WriteTagSheet writes the tags as a PDF to print at 100 %: the patterns true to
// size, the id in figures and words below each, cut marks, a bar of 100 mm to
// check the print, and where to glue them.
//
// Error: Invalid for a sheet that does not fit or asks for nothing.
func WriteTagSheet(w io.Writer, s TagSheet) error {
	pages, err := s.layout()
	if err != nil {
		return err
	}
	size, err := s.size()
	if err != nil {
		return err
	}
	p, err := newPaper(size, fmt.Sprintf("Tags %s, %g mm", s.Family, float64(s.Edge)))
	if err != nil {
		return err
	}
	for i, page := range pages {
		if i > 0 {
			p.newPage(size)
		}
		p.tagPage(s, page, size)
	}
	return p.finish(w, sheetDay)
}

func (p *paper) tagPage(s TagSheet, page tagPage, size paperSize) {
	for _, t := range page.tags {
		p.tag(s, t)
	}
	p.cutMarks(page)
	if s.Strip {
		p.stripAdvice(s, page, size)
		return
	}
	p.text(size.width/2, size.height-pageMargin-5, 5, true, canvas.Center,
		fmt.Sprintf("Tag %d (%s)", page.tags[0].tag.ID, inWords(page.tags[0].tag.ID)))
	left := pageMargin + 5
	y := page.y - 10
	p.barAcross((size.width-barLength)/2, y-4)
	y -= 13
	y -= p.textBox(left, y, size.width-2*left, 3.3, true, printAdvice(s)) + 1.5
	y -= p.textBox(left, y, size.width-2*left, 3.1, false, strings.Join(glueAdvice(), " ")) + 1.5
	p.textBox(left, y, size.width-2*left, 3.1, false, strings.Join(cautions(), " "))
}

// tag fills the black cells as one path: cells filled one by one would leave
// hairlines between them on paper.
func (p *paper) tag(s TagSheet, t tagPlace) {
	n := len(t.tag.Cells) - 2*s.Quiet
	cell := float64(s.Edge) / float64(n)
	path := &canvas.Path{}
	for r := range n {
		for c := range n {
			if t.tag.Cells[r+s.Quiet][c+s.Quiet] {
				continue
			}
			path = path.Append(canvas.Rectangle(cell, cell).Translate(t.x+float64(c)*cell, t.y+float64(n-1-r)*cell))
		}
	}
	p.fill(path, canvas.Black)
	label := fmt.Sprintf("%d %s · %s · %g mm", t.tag.ID, inWords(t.tag.ID), s.Family, float64(s.Edge))
	size := p.fit(label, labelSize, float64(s.Edge)+2*s.quiet()-2)
	p.text(t.x+float64(s.Edge)/2, t.y-s.quiet()-5, size, true, canvas.Center, label)
}

// labelSize is the label's font size in mm where the piece is wide enough:
// read easily at arm's length.
const labelSize = 3.6

// cutMarks draws two short lines at each corner, clear of the piece.
func (p *paper) cutMarks(page tagPage) {
	const gap, length, width = 1.0, 5.0, 0.2
	for _, right := range []bool{false, true} {
		for _, up := range []bool{false, true} {
			x, y, dx, dy := page.x, page.y, -1.0, -1.0
			if right {
				x, dx = page.x+page.width, 1
			}
			if up {
				y, dy = page.y+page.height, 1
			}
			p.line(x+dx*gap, y, x+dx*(gap+length), y, width, markGrey)
			p.line(x, y+dy*gap, x, y+dy*(gap+length), width, markGrey)
		}
	}
}

// barAcross draws the check bar; its outer edges, the ends of its end ticks'
// centre lines, are 100 mm apart.
func (p *paper) barAcross(x, y float64) {
	p.line(x, y, x+barLength, y, 0.3, canvas.Black)
	for mm := 0; mm <= barLength; mm += 10 {
		h := 2.0
		if mm%50 == 0 {
			h = 4
			p.text(x+float64(mm), y-7.5, 3, false, canvas.Center, fmt.Sprintf("%d", mm))
		}
		p.line(x+float64(mm), y-h, x+float64(mm), y, 0.2, canvas.Black)
	}
	p.text(x+barLength+3, y-3, 3, false, canvas.Left, "mm")
}

func (p *paper) barUp(x, y float64) {
	p.line(x, y, x, y+barLength, 0.3, canvas.Black)
	for mm := 0; mm <= barLength; mm += 10 {
		h := 2.0
		if mm%50 == 0 {
			h = 4
			p.textTurned(x+7.5, y+float64(mm), 3, fmt.Sprintf("%d mm", mm))
		}
		p.line(x, y+float64(mm), x+h, y+float64(mm), 0.2, canvas.Black)
	}
}

func (p *paper) stripAdvice(s TagSheet, page tagPage, size paperSize) {
	x := page.x + page.width + sideGap
	width := size.width - pageMargin - x
	y := size.height - pageMargin
	ids := make([]string, len(page.tags))
	for i, t := range page.tags {
		ids[i] = fmt.Sprint(t.tag.ID)
	}
	y -= p.textBox(x, y, width, 4.5, true, "Tags "+strings.Join(ids, ", ")) + 3
	y -= p.textBox(x, y, width, 3, true, printAdvice(s)) + 2
	for _, part := range append(stripWords(s, len(page.tags)), append(glueAdvice(), cautions()...)...) {
		y -= p.textBox(x, y, width, 2.8, false, part) + 1.5
	}
	p.barUp(x, pageMargin+4)
}

func stripWords(s TagSheet, tags int) []string {
	if tags < 2 {
		return nil
	}
	return []string{fmt.Sprintf("Cut the strip as one piece: its tags' centres are %g mm apart, the first one at the top.", float64(s.Pitch()))}
}

func printAdvice(s TagSheet) string {
	return fmt.Sprintf("Print at 100 %% (no fitting to the page) on matt paper. The bar must measure 100.0 mm and a black square %g mm, "+
		"both within 0.3 mm: else do not use the page, or write the measured edge into the rig file.", float64(s.Edge))
}

// glueAdvice is where the tags go. Four suffice and sixteen are better (design
// of the rig); the rest is common practice, no source.
func glueAdvice() []string {
	return []string{
		"Where: round the rim of the table, outside the hide, at least four and better sixteen; one in each corner first, the rest " +
			"evenly along the sides, all at one height and all in the photograph.",
		"How: flat, glued all over, label towards the near side; nothing over the black square or its white border, no gloss.",
		"Then measure each centre from the table's near left corner, or take the positions from photographs (rig survey).",
	}
}

func cautions() []string {
	return []string{"Take care: cut away from your hand, on a mat, and close the knife after. Do not look into the table's lamps. " +
		"Secure the camera and the ladder before you lean over the table."}
}
