package export

import (
	"math"

	"hidechart/hide"
)

// TagSheet says which tags to print, and how.
type TagSheet struct {
	Family string
	Edge   hide.MM    // outer edge of the black square
	Quiet  int        // white cells round the black square in Cells
	Tags   []TagCells // in the order in which they are printed
	Paper  string     // A4 or A3
	Strip  bool       // a column of tags on each page, cut as one piece, instead of one tag a page
}

// TagCells is the pattern of one tag: rows from the top, true is white, the
// white border included.
type TagCells struct {
	ID    int
	Cells [][]bool
}

// Measures of the page, in mm.
const (
	pageMargin = 10.0 // desktop printers leave 4–6 mm blank
	labelBand  = 8.0  // below each tag's white border: room for a line of 4 mm
	headBand   = 16.0 // the page's title, clear of the upper cut marks
	footBand   = 62.0 // the bar and the advice below a single tag
	sideColumn = 46.0 // the least width in which the advice beside a strip reads well
	sideGap    = 8.0  // between a strip's cut marks and the advice
	barLength  = 100.0
	// A cell of 2.5 mm is one or two pixels across where a 3 m table fills a
	// photograph of 24 megapixels: smaller tags cannot be read.
	leastEdge = 20.0
)

// tagPlace is where one tag's black square lies on its page: lower left corner.
type tagPlace struct {
	tag  TagCells
	x, y float64
}

// tagPage is one page: the tags and the piece to cut out (lower left corner,
// size), white borders and labels included.
type tagPage struct {
	tags          []tagPlace
	x, y          float64
	width, height float64
}

func (s TagSheet) size() (paperSize, error) {
	switch s.Paper {
	case "A4":
		return paperA4, nil
	case "A3":
		return paperA3, nil
	}
	return paperSize{}, hide.Faultf(hide.Invalid, "paper %q: want A4 or A3", s.Paper)
}

// quiet is the width of the white border in mm.
func (s TagSheet) quiet() float64 {
	return float64(s.Edge) * float64(s.Quiet) / float64(len(s.Tags[0].Cells)-2*s.Quiet)
}

// Pitch is the distance between the centres of neighbours on a strip: the
// white borders and a label lie between them; whole millimetres, so that it can
// be written into a rig file as it is.
func (s TagSheet) Pitch() hide.MM {
	return hide.MM(math.Ceil(float64(s.Edge) + 2*s.quiet() + labelBand))
}

func (s TagSheet) validate() error {
	if len(s.Tags) == 0 {
		return hide.Faultf(hide.Invalid, "tag sheet: no tags asked for")
	}
	n := len(s.Tags[0].Cells)
	if s.Quiet < 1 || n <= 2*s.Quiet {
		return hide.Faultf(hide.Invalid, "tag sheet: %d white cells round a pattern of %d", s.Quiet, n)
	}
	seen := map[int]bool{}
	for _, t := range s.Tags {
		if seen[t.ID] {
			return hide.Faultf(hide.Invalid, "tag sheet: tag %d twice; every tag on a table needs its own id", t.ID)
		}
		seen[t.ID] = true
		if len(t.Cells) != n {
			return hide.Faultf(hide.Invalid, "tag sheet: tag %d has %d rows, others %d", t.ID, len(t.Cells), n)
		}
		for _, row := range t.Cells {
			if len(row) != n {
				return hide.Faultf(hide.Invalid, "tag sheet: tag %d is not square", t.ID)
			}
		}
	}
	if !(s.Edge >= leastEdge) {
		return hide.Faultf(hide.Invalid, "tag sheet: edge %g mm; a tag below %g mm cannot be read from above a table", float64(s.Edge), leastEdge)
	}
	return nil
}

// layout places the tags on pages.
//
// Error: Invalid when the tags do not fit the paper, with the largest edge that does.
func (s TagSheet) layout() ([]tagPage, error) {
	if err := s.validate(); err != nil {
		return nil, err
	}
	size, err := s.size()
	if err != nil {
		return nil, err
	}
	if s.Strip {
		return s.strips(size)
	}
	return s.singles(size)
}

func (s TagSheet) singles(size paperSize) ([]tagPage, error) {
	border := s.quiet()
	square := float64(s.Edge) + 2*border
	room := math.Min(size.width-2*pageMargin, size.height-2*pageMargin-headBand-footBand-labelBand)
	if square > room {
		return nil, s.tooLarge(room, "")
	}
	var pages []tagPage
	for _, t := range s.Tags {
		x := (size.width - square) / 2
		y := size.height - pageMargin - headBand - square
		pages = append(pages, tagPage{
			tags: []tagPlace{{tag: t, x: x + border, y: y + border}},
			x:    x, y: y - labelBand, width: square, height: square + labelBand,
		})
	}
	return pages, nil
}

func (s TagSheet) strips(size paperSize) ([]tagPage, error) {
	border := s.quiet()
	square := float64(s.Edge) + 2*border
	if room := size.width - 2*pageMargin - sideGap - sideColumn; square > room {
		return nil, s.tooLarge(room, " in a strip")
	}
	pitch := float64(s.Pitch())
	perPage := int((size.height - 2*pageMargin) / pitch)
	if perPage < 2 {
		return nil, hide.Faultf(hide.Invalid, "tag sheet: %s holds no strip of two tags of %g mm; print one tag a page or use A3", s.Paper, float64(s.Edge))
	}
	var pages []tagPage
	for first := 0; first < len(s.Tags); first += perPage {
		tags := s.Tags[first:min(first+perPage, len(s.Tags))]
		top := size.height - pageMargin
		page := tagPage{x: pageMargin, width: square, height: float64(len(tags)) * pitch}
		page.y = top - page.height
		for i, t := range tags {
			y := top - float64(i)*pitch - border - float64(s.Edge)
			page.tags = append(page.tags, tagPlace{tag: t, x: pageMargin + border, y: y})
		}
		pages = append(pages, page)
	}
	return pages, nil
}

func (s TagSheet) tooLarge(room float64, how string) error {
	n := float64(len(s.Tags[0].Cells))
	most := math.Floor(room * (n - 2*float64(s.Quiet)) / n)
	return hide.Faultf(hide.Invalid, "tag sheet: a tag of %g mm and its white border do not fit %s%s; at most %g mm",
		float64(s.Edge), s.Paper, how, most)
}
