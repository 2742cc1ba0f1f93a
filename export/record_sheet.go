package export

import (
	"bytes"
	"fmt"
	"io"
	"strings"
	"time"

	"github.com/tdewolff/canvas"
	"github.com/tdewolff/canvas/renderers/svg"

	"hidechart/hide"
)

// mostHeatMaps is how many kinds a sheet of one page has room for: those with the most marks
// that came back to a place, then those with the most marks.
const mostHeatMaps = 5

// SheetTitle names what a sheet is about.
func SheetTitle(s hide.SheetScope) string {
	switch {
	case s.Lot != "":
		return "Lot " + s.Lot
	case s.Supplier != "":
		return "Supplier " + s.Supplier
	case s.Month != "":
		return "Month " + s.Month
	case s.Article != "":
		return "Article " + s.Article
	}
	return "All hides"
}

// WriteSheetPDF prints a sheet of the record as one A4 page. The same sheet gives the same
// bytes. Error: Invalid for a date that is none; Internal.
func WriteSheetPDF(w io.Writer, s hide.Sheet) error {
	day, err := time.Parse(time.DateOnly, s.Made)
	if err != nil {
		return hide.Wrapf(hide.Invalid, err, "sheet: date")
	}
	pen, err := newPaper(paperA4, "Record sheet, "+s.Made)
	if err != nil {
		return err
	}
	l, err := newNameFonts()
	if err != nil {
		return err
	}
	p := sheetPage{pen, l, s}
	p.head()
	p.facts()
	field{paper: pen, l: l, x: 22, y: 180, w: 78, h: 38}.controlPlot(s.Trend)
	field{paper: pen, l: l, x: 110, y: 172, w: 84, h: 46}.paretoPlot(s.Losses)
	field{paper: pen, l: l, x: 14, y: 110, w: 88, h: 48}.ratePlot(s.Rates)
	p.words()
	for i, m := range chosenMaps(s) {
		field{paper: pen, l: l, x: 13 + 37*float64(i), y: 52, w: 36, h: 34}.heatPlot(m)
	}
	pen.text(14, 94, 3, true, canvas.Left, "Where on the hide (head up), hides folded into one outline")
	p.notes()
	return pen.finish(w, day)
}

type sheetPage struct {
	*paper
	l nameFonts
	s hide.Sheet
}

func (p sheetPage) head() {
	s := p.s
	p.name(p.l, 14, 281, 6, true, 182, SheetTitle(s.Scope))
	var parts []string
	for _, x := range [][2]string{{"supplier", s.Scope.Supplier}, {"article", s.Scope.Article}, {"month", s.Scope.Month}} {
		if x[1] != "" && SheetTitle(s.Scope) != "Supplier "+x[1] {
			parts = append(parts, x[0]+" "+x[1])
		}
	}
	parts = append(parts, "drawn up "+s.Made, fmt.Sprintf("%d hides (%d sides), %d lots, %.1f m²", s.Hides, s.Sides, len(s.Lots), s.AreaM2),
		fmt.Sprintf("%d reviewed by a person", s.Review.Hides))
	p.name(p.l, 14, 274.5, 3.2, false, 182, strings.Join(parts, "  ·  "))
	p.line(14, 271.5, 196, 271.5, 0.3, plotBlack)
}

// interval writes an estimate with its interval and n.
func interval(e hide.Estimate, form string, unit string) string {
	if e.N == 0 {
		return "not known"
	}
	if !e.Known {
		return fmt.Sprintf(form+"%s (n = %d: no interval)", e.Value, unit, e.N)
	}
	return fmt.Sprintf(form+"%s ("+form+" to "+form+"; n = %d)", e.Value, unit, e.Low, e.High, e.N)
}

// SheetFacts are a sheet's figures in words, each with n and interval.
func SheetFacts(s hide.Sheet) [][2]string {
	rows := [][2]string{{"Measured against stamped area", interval(s.Stamp.Mean, "%+.2f", " %")}}
	if s.Stamp.Mean.N > 0 {
		rows = append(rows, [2]string{"… with what the table itself may be off", withTable(s.Stamp)},
			[2]string{"… paired test", pairedWords(s.Stamp)})
	}
	for _, y := range s.Yields {
		rows = append(rows, [2]string{"Cuttable under look " + y.Look, interval(hide.Estimate{N: y.Share.N, Value: 100 * y.Share.Value, Low: 100 * y.Share.Low, High: 100 * y.Share.High, Known: y.Share.Known}, "%.1f", " %") +
			fmt.Sprintf(" of %d hides; a review could leave %.1f to %.1f", y.Of, 100*y.P10, 100*y.P90)})
	}
	if len(s.Rates) > 0 {
		r := s.Rates[0].PerM2
		rows = append(rows, [2]string{"Flaws per m², all kinds", interval(r.Estimate, "%.2f", "") + ", " + r.Model})
	}
	lost := 0.0
	for _, l := range s.Losses {
		lost += l.AreaM2
	}
	if s.AreaM2 > 0 {
		rows = append(rows, [2]string{"Leather under flaws", fmt.Sprintf("%.2f m², %.2f %%", lost, 100*lost/s.AreaM2)})
	}
	rows = append(rows, [2]string{"Reviewed", fmt.Sprintf("%d of %d hides; candidates %d, confirmed %d, rejected %d, drawn %d", s.Review.Hides, s.Hides, s.Review.Candidates, s.Review.Confirmed, s.Review.Rejected, s.Review.Added)})
	return rows
}

// withTable is the mean difference with the uncertainty that all hides share.
func withTable(c hide.StampCheck) string {
	if !c.Whole.Known {
		return fmt.Sprintf("no interval from one hide; u = %.2f %%", c.U)
	}
	return fmt.Sprintf("%+.2f to %+.2f %% (u = %.2f %% taken as common to all)", c.Whole.Low, c.Whole.High, c.U)
}

func pairedWords(c hide.StampCheck) string {
	if !c.Test.Known {
		return "needs two hides or more that differ"
	}
	return fmt.Sprintf("t = %.2f, df = %d, p %s; %d above, %d below, sign test p %s", c.Test.T, c.Test.DF, pWords(c.Test.P), c.Above, c.Below, pWords(c.Test.SignP))
}

func pWords(p float64) string {
	if p < 0.0005 {
		return "< 0.0005"
	}
	return fmt.Sprintf("= %.3f", p)
}

func (p sheetPage) facts() {
	y := 265.5
	for _, r := range SheetFacts(p.s) {
		p.name(p.l, 14, y, 2.9, false, 56, r[0])
		p.name(p.l, 72, y, 2.9, true, 124, r[1])
		y -= 4.8
	}
}

// SheetFindings are what tests on a sheet found, in words: places, repeats,
// suppliers that differ, lots out of control. Nothing found is said.
func SheetFindings(s hide.Sheet) []string {
	var out []string
	for _, r := range s.Repeats {
		out = append(out, r.Text)
	}
	for _, p := range s.Places {
		out = append(out, "Comes back: "+p.Text+" ("+p.Form+" hides, p "+pWords(p.P)+")")
	}
	for _, p := range s.Trend.Points {
		if p.Alarm {
			out = append(out, fmt.Sprintf("Lot %s lies outside the control limits: %.2f per m² against %.2f to %.2f", p.Lot, p.U, p.Low, p.High))
		}
	}
	differ, made, reasons := 0, 0, map[string]int{}
	for _, c := range s.Compare {
		kind := "all kinds"
		if c.Kind != "" {
			kind = c.Kind.Words()
		}
		if c.Differ {
			differ++
			out = append(out, fmt.Sprintf("Differs, %s: %s has %.2f times (%.2f to %.2f) the flaws per m² of %s (p %s after correction)", kind, c.A, c.Ratio.Value, c.Ratio.Low, c.Ratio.High, c.B, pWords(c.Holm)))
		}
		if c.Reason == "" {
			made++
		} else if kind == "all kinds" {
			reasons[fmt.Sprintf("Not compared: %s and %s, %s", c.A, c.B, c.Reason)]++
		}
	}
	if differ == 0 && made > 0 {
		out = append(out, fmt.Sprintf("No supplier differs from another in flaws per m² after correction for %d comparisons", made))
	}
	for _, c := range s.Compare {
		text := fmt.Sprintf("Not compared: %s and %s, %s", c.A, c.B, c.Reason)
		if reasons[text] > 0 {
			out = append(out, text)
			delete(reasons, text)
		}
	}
	if len(out) == 0 {
		out = []string{"Nothing stands out from chance"}
	}
	return out
}

// words writes the findings beside the rates, as many as there is room for.
func (p sheetPage) words() {
	p.text(110, 160, 3, true, canvas.Left, "What stands out")
	y := 156.0
	list := SheetFindings(p.s)
	for i, f := range list {
		if y < 106 {
			p.text(110, y-2, plotText, false, canvas.Left, fmt.Sprintf("… and %d more: see the web page or the tables", len(list)-i))
			return
		}
		y -= p.paragraph(110, y, 86, 2.5, f) + 1
	}
}

// paragraph wraps a text that may hold names.
func (p sheetPage) paragraph(x, y, width, size float64, s string) float64 {
	s = p.l.shown(s)
	font := p.regular
	if strings.ContainsFunc(s, func(r rune) bool { return !has(font, r) }) {
		font = p.l.regular
	}
	face := font.Face(size/pointMM, canvas.Black)
	height := 0.0
	for _, line := range wrapped(face, s, width) { // line by line: the direction of reading is settled within a line
		height += size * paragraphStep
		p.ctx.DrawText(x, y-height+size*0.35, canvas.NewTextLine(face, line, canvas.Left))
	}
	return height
}

// paragraphStep is the distance of lines over the size of the letters.
const paragraphStep = 1.32

// wrapped breaks a text at blanks into lines no wider than width; a word that is
// wider is broken where it has to be.
func wrapped(face *canvas.FontFace, s string, width float64) []string {
	var lines []string
	line := ""
	for _, word := range strings.Fields(s) {
		next := strings.TrimSpace(line + " " + word)
		if face.TextWidth(next) <= width {
			line = next
			continue
		}
		if line != "" {
			lines = append(lines, line)
		}
		line = word
		for face.TextWidth(line) > width {
			cut := len([]rune(line)) - 1
			for cut > 1 && face.TextWidth(string([]rune(line)[:cut])) > width {
				cut--
			}
			lines, line = append(lines, string([]rune(line)[:cut])), string([]rune(line)[cut:])
		}
	}
	if line != "" {
		lines = append(lines, line)
	}
	return lines
}

// chosenMaps are the maps a page shows.
func chosenMaps(s hide.Sheet) []hide.HeatMap {
	var out []hide.HeatMap
	taken := map[string]bool{}
	put := func(form string, kind hide.Kind) {
		for _, m := range s.Maps {
			if key := form + string(kind); m.Form == form && m.Kind == kind && !taken[key] && len(out) < mostHeatMaps {
				taken[key] = true
				out = append(out, m)
			}
		}
	}
	for _, r := range s.Repeats {
		put(r.Form, r.Kind)
	}
	for _, pl := range s.Places {
		put(pl.Form, pl.Kind)
	}
	for len(out) < mostHeatMaps {
		best, most := -1, 0
		for i, m := range s.Maps {
			n := 0
			for _, x := range m.Marks {
				n += x
			}
			if !taken[m.Form+string(m.Kind)] && n > most {
				best, most = i, n
			}
		}
		if best < 0 {
			break
		}
		put(s.Maps[best].Form, s.Maps[best].Kind)
	}
	return out
}

func (p sheetPage) notes() {
	y := 42.0
	for _, n := range p.s.Notes {
		y -= p.paragraph(14, y, 182, 2.4, n) + 0.8
	}
}

// SheetPlot is a plot of a sheet for a web page.
type SheetPlot struct {
	Name string // lots, losses, rates, and map-FORM-KIND for each map
	SVG  []byte
}

// SheetPlots draws the plots of a sheet as SVG, each by itself, in their order on the
// printed page, with a map for every kind.
func SheetPlots(s hide.Sheet) ([]SheetPlot, error) {
	l, err := newNameFonts()
	if err != nil {
		return nil, err
	}
	var out []SheetPlot
	draw := func(name string, w, h float64, plot func(field)) error {
		pen, err := newPicture(paperSize{w, h})
		if err != nil {
			return err
		}
		plot(field{paper: pen, l: l, x: 12, y: 9, w: w - 16, h: h - 17})
		data, err := pen.svg()
		out = append(out, SheetPlot{name, data})
		return err
	}
	err = draw("lots", 110, 66, func(f field) { f.controlPlot(s.Trend) })
	if err == nil {
		err = draw("losses", 110, 66, func(f field) { f.x = 4; f.paretoPlot(s.Losses) })
	}
	if err == nil {
		err = draw("rates", 110, 66, func(f field) { f.x = 4; f.ratePlot(s.Rates) })
	}
	for _, m := range s.Maps {
		if err == nil {
			err = draw("map-"+m.Form+"-"+string(m.Kind), 44, 56, func(f field) { f.x, f.w = 4, 36; f.heatPlot(m) })
		}
	}
	return out, err
}

// svg writes the picture as SVG with the fonts' names only: a page has fonts of
// its own for every script.
func (p *paper) svg() ([]byte, error) {
	var b bytes.Buffer
	r := svg.New(&b, p.picture.W, p.picture.H, &svg.Options{EmbedFonts: false})
	p.picture.RenderTo(r)
	if err := r.Close(); err != nil {
		return nil, hide.Wrapf(hide.Internal, err, "svg")
	}
	return b.Bytes(), nil
}
