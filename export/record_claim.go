package export

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"strings"
	"time"

	"github.com/tdewolff/canvas"

	"hidechart/hide"
)

// ClaimListName is the attached list of all other attached files with their hashes.
const ClaimListName = "claim.json"

// Measures of a claim's pages, mm.
const (
	claimMargin = 16.0
	claimWidth  = 210 - 2*claimMargin
	claimFoot   = 18.0
	claimBody   = 3.0
)

// WriteClaim prints a claim as a PDF/A-3b with the files attached and a list of
// them, whose hash stands on the first page. charts are those of c.Hides, in their order, reviewed; they are
// drawn true to a scale. The wording is neutral: what was measured, how, what was promised, what was
// not looked at. The same input gives the same bytes.
//
// Errors: Invalid for a date that is none, or charts that are not those of the hides; Internal.
func WriteClaim(w io.Writer, c hide.Claim, charts []hide.Chart, files []hide.Attachment) error {
	day, err := time.Parse(time.DateOnly, c.Date)
	if err != nil {
		return hide.Wrapf(hide.Invalid, err, "claim: date")
	}
	if len(charts) != len(c.Hides) {
		return hide.Faultf(hide.Invalid, "claim: %d charts for %d hides", len(charts), len(c.Hides))
	}
	list, err := encodeJSON(c)
	if err != nil {
		return hide.Wrapf(hide.Internal, err, "claim")
	}
	l, err := newNameFonts()
	if err != nil {
		return err
	}
	title := "Claim, lot " + l.shown(c.Lot) + ", " + c.Date
	pen, err := newPaper(paperA4, title)
	if err != nil {
		return err
	}
	sum := sha256.Sum256(list)
	p := &claimPages{sheetPage: sheetPage{pen, l, c.Sheet}, claim: c, list: hex.EncodeToString(sum[:])}
	p.start()
	p.front()
	p.areas()
	p.flaws()
	p.pictures(charts)
	p.proof()
	p.foot()
	var raw bytes.Buffer
	if err := pen.finish(&raw, day); err != nil {
		return err
	}
	files = append([]hide.Attachment{{Name: ClaimListName, What: "list of the attached files with their hashes, and all figures of this claim", MIME: "application/json", Data: list}}, files...)
	out, err := archival(raw.Bytes(), title, day, files)
	if err != nil {
		return err
	}
	if _, err := w.Write(out); err != nil {
		return hide.Wrapf(hide.Internal, err, "write claim")
	}
	return nil
}

type claimPages struct {
	sheetPage
	claim hide.Claim
	list  string // hash of claim.json
	y     float64
	page  int
}

func (p *claimPages) start() {
	if p.page > 0 {
		p.newPage(paperA4)
	}
	p.page++
	p.y = 297 - claimMargin
	p.name(p.l, claimMargin, 10, 2.6, false, claimWidth-30, "Lot "+p.claim.Lot+", "+p.claim.Supplier+", "+p.claim.Date)
	p.text(210-claimMargin, 10, 2.6, false, canvas.Right, fmt.Sprintf("page %d", p.page))
}

// need starts a page when less than h is left, and says so.
func (p *claimPages) need(h float64) bool {
	if p.y-h >= claimFoot {
		return false
	}
	p.start()
	return true
}

func (p *claimPages) heading(s string) {
	p.need(22)
	p.y -= 3
	p.text(claimMargin, p.y-3, 4.2, true, canvas.Left, s)
	p.y -= 8
}

func (p *claimPages) row(label, value string) {
	p.need(5)
	p.name(p.l, claimMargin, p.y-3, claimBody, false, 50, label)
	p.name(p.l, claimMargin+52, p.y-3, claimBody, true, claimWidth-52, value)
	p.y -= 5
}

func (p *claimPages) prose(s string) {
	p.need(14)
	p.y -= p.paragraph(claimMargin, p.y, claimWidth, claimBody, s) + 1.5
}

// table writes lines under a heading that is repeated on each page.
func (p *claimPages) table(columns []column, rows [][]string) {
	head := func() {
		for i, c := range columns {
			p.cell(columns, i, c.name, true)
		}
		p.y -= 4.6
		p.line(claimMargin, p.y+0.6, 210-claimMargin, p.y+0.6, 0.25, plotBlack)
	}
	p.need(16)
	head()
	for _, r := range rows {
		if p.need(4.6) {
			head()
		}
		for i, s := range r {
			p.cell(columns, i, s, false)
		}
		p.y -= 4.6
	}
	p.y -= 2
}

func (p *claimPages) cell(columns []column, i int, s string, bold bool) {
	if columns[i].right {
		p.text(claimMargin+columns[i].x, p.y-3, 2.7, bold, canvas.Right, s)
		return
	}
	end := claimWidth
	for _, c := range columns[i+1:] {
		if !c.right {
			end = min(end, c.x)
		} else {
			end = min(end, c.x-14)
		}
	}
	p.name(p.l, claimMargin+columns[i].x, p.y-3, 2.7, bold, end-columns[i].x-1.5, s)
}

// front is what the claim states at a glance.
func (p *claimPages) front() {
	c := p.claim
	p.text(claimMargin, p.y-6, 6.5, true, canvas.Left, "Statement of a lot as measured")
	p.y -= 13
	p.row("Supplier", c.Supplier)
	p.row("Lot", c.Lot)
	p.row("Date of this statement", c.Date)
	p.row("Made by", c.By)
	p.row("Hides", fmt.Sprintf("%d (%d sides), %.2f m² measured", c.Sheet.Hides, c.Sheet.Sides, c.Sheet.AreaM2))
	p.heading("Area")
	s := c.Sheet.Stamp
	if s.Mean.N == 0 {
		p.row("Stamped area", "no hide of the lot has a stamp on record")
	} else {
		p.row("Stamped, sum", fmt.Sprintf("%.3f m² (%.2f ft²) on %d hides", s.StampedM2, hide.FromM2(s.StampedM2).Feet2(), s.Mean.N))
		p.row("Measured, sum", fmt.Sprintf("%.3f m² (%.2f ft²) on them, ± %.3f m² (k = 2)", s.MeasuredM2, hide.FromM2(s.MeasuredM2).Feet2(), 2*s.U/100*s.StampedM2))
		p.row("Difference, mean", interval(s.Mean, "%+.2f", " %")+" by the spread of the hides")
		p.row("… with the measurement", withTable(s))
		p.row("Paired test", pairedWords(s))
	}
	p.heading("Grade")
	p.row("Promised", orNone(strings.TrimSpace(c.Promised.Grade+" "+bracketed(c.Promised.Rule)), "nothing on record"))
	var found []string
	for _, g := range c.Found {
		found = append(found, fmt.Sprintf("%s: %d hides", orNone(g.Grade, "no grade"), g.Hides))
	}
	rule := ""
	if len(c.Found) > 0 {
		rule = " by the rule " + c.Found[0].Rule
	}
	p.row("Found", orNone(strings.Join(found, ", ")+rule, "not graded"))
	p.heading("What was looked at")
	r := c.Sheet.Review
	p.row("Reviewed by a person", fmt.Sprintf("%d of %d hides", r.Hides, c.Sheet.Hides))
	p.row("Flaws", fmt.Sprintf("%d confirmed, %d drawn, %d rejected by a reviewer; %d candidates were not reviewed", r.Confirmed, r.Added, r.Rejected, r.Candidates))
	p.y -= 2
	p.prose("A candidate is what the program found and no person has judged; it counts here from a probability of 0.5. What no light of the photographs shows, and the flesh side, was not looked at.")
	p.prose("Measured and stamped areas can differ by method and by humidity; this statement does not say why they differ. Where the contract names a referee method (for instance a pin-wheel machine, ISO 11646, or electronic measurement, ISO 19076, on conditioned leather), that method decides.")
	p.prose("The list of attached files, " + ClaimListName + ", has the SHA-256 " + p.list + ". hidechart records verify checks every attached file against it.")
}

func orNone(s, none string) string {
	if s == "" {
		return none
	}
	return s
}

func bracketed(s string) string {
	if s == "" {
		return ""
	}
	return "(" + s + ")"
}

// areas lists every hide.
func (p *claimPages) areas() {
	p.heading("Hide by hide")
	var rows [][]string
	for i, h := range p.claim.Hides {
		stamped, diff := "–", "–"
		if h.Stamped > 0 {
			stamped = fmt.Sprintf("%.2f", h.Stamped.DM2())
			diff = fmt.Sprintf("%+.2f", 100*(float64(h.Area/h.Stamped)-1))
		}
		reviewed := "no"
		if h.Review.Hides > 0 {
			reviewed = "yes"
		}
		rows = append(rows, []string{fmt.Sprint(i + 1), h.ID, orNone(h.Stamp, "–"), stamped, fmt.Sprintf("%.2f", h.Area.DM2()), fmt.Sprintf("%.2f", 2*h.U.DM2()), diff, orNone(h.Grade, "–"),
			optional(h.TempC, "%.1f"), optional(h.Humidity, "%.0f"), reviewed})
	}
	p.table([]column{{"", 0, false}, {"Hide", 6, false}, {"Stamp", 40, false}, {"= dm²", 66, true}, {"Measured", 82, true}, {"± (k = 2)", 98, true}, {"Diff. %", 112, true}, {"Grade", 116, false}, {"°C", 143, true}, {"% RH", 156, true}, {"Reviewed", 160, false}}, rows)
	for _, h := range p.claim.Hides {
		if h.StampNote != "" {
			p.prose("Stamps: a single figure behind the point counts quarters of a square foot, as the trade stamps; " + h.StampNote + ".")
			break
		}
	}
	if len(p.claim.Hides) > 0 && p.claim.Hides[0].Because != "" {
		p.heading("Why this grade")
		for i, h := range p.claim.Hides {
			p.need(5)
			p.name(p.l, claimMargin, p.y-3, 2.7, false, claimWidth, fmt.Sprintf("%d  %s: %s", i+1, orNone(h.Grade, "no grade"), h.Because))
			p.y -= 4.4
		}
	}
}

func optional(v *float64, form string) string {
	if v == nil {
		return "–"
	}
	return fmt.Sprintf(form, *v)
}

// flaws lists kinds, and what is found at one place again and again.
func (p *claimPages) flaws() {
	p.heading("Flaws of the lot")
	var rows [][]string
	for _, r := range p.claim.Sheet.Rates {
		if r.Zone != "" || r.Kind == "" || r.Count == 0 {
			continue
		}
		area := 0.0
		for _, l := range p.claim.Sheet.Losses {
			if l.Kind == r.Kind {
				area = l.AreaM2
			}
		}
		rows = append(rows, []string{r.Kind.Words(), fmt.Sprint(r.Count), fmt.Sprintf("%.2f", r.PerM2.Value), fmt.Sprintf("%.2f to %.2f", r.PerM2.Low, r.PerM2.High), fmt.Sprintf("%.2f", 100*area),
			fmt.Sprintf("%.0f %% of %d hides", 100*r.HidesWith.Value, r.HidesWith.N)})
	}
	p.table([]column{{"Kind", 0, false}, {"Number", 46, true}, {"Per m²", 64, true}, {"95 % interval", 96, true}, {"Area dm²", 116, true}, {"On", 124, false}}, rows)
	for _, f := range SheetFindings(p.claim.Sheet) {
		p.prose(f + ".")
	}
}

// pictureHeight is the room of a hide's drawing on the page, mm; four fit on a page.
const pictureHeight, pictureWidth = 92.0, 86.0

// pictures draws each hide to scale, with a bar.
func (p *claimPages) pictures(charts []hide.Chart) {
	p.need(pictureHeight + 20) // not the heading alone
	p.heading("Drawings, true to scale; numbers as in the charts")
	for i := 0; i < len(charts); i += 2 {
		p.need(pictureHeight + 8)
		for k := 0; k < 2 && i+k < len(charts); k++ {
			p.hide(claimMargin+float64(k)*(pictureWidth+6), p.y-pictureHeight, i+k, charts[i+k])
		}
		p.y -= pictureHeight + 6
	}
}

// hide draws one chart into a box: outline, counted flaws in the colours of their kinds with a number,
// and a bar of 500 mm.
func (p *claimPages) hide(x, y float64, n int, c hide.Chart) {
	h := p.claim.Hides[n]
	p.name(p.l, x, y+pictureHeight-3, 2.8, true, pictureWidth, fmt.Sprintf("%d  %s", n+1, h.ID))
	b := shapeBox(hide.Shape{c.Outline})
	scale := min(pictureWidth/(b.maxX-b.minX), (pictureHeight-13)/(b.maxY-b.minY))
	at := func(q hide.Point) (float64, float64) {
		return x + (float64(q.X)-b.minX)*scale, y + 6 + (float64(q.Y)-b.minY)*scale
	}
	path := func(s hide.Shape) *canvas.Path {
		out := &canvas.Path{}
		for _, poly := range s {
			for _, r := range append([]hide.Ring{poly.Outer}, poly.Holes...) {
				for i, q := range r {
					px, py := at(q)
					if i == 0 {
						out.MoveTo(px, py)
					} else {
						out.LineTo(px, py)
					}
				}
				out.Close()
			}
		}
		return out
	}
	p.outlined(path(hide.Shape{c.Outline}), 0.3)
	shown := 0
	for _, d := range c.Defects {
		if d.Status == hide.Rejected || d.Status == hide.Candidate && d.Probability < likelyShown {
			continue
		}
		shown++
		p.fill(path(d.Geometry), kindColour(d.Kind))
		db := shapeBox(d.Geometry)
		px, py := at(hide.Point{X: hide.MM(db.maxX), Y: hide.MM(db.maxY)})
		p.text(px+0.3, py, 1.5, false, canvas.Left, fmt.Sprint(d.ID))
	}
	bar := 500 * scale
	p.line(x, y+2.5, x+bar, y+2.5, 0.5, plotBlack)
	p.text(x+bar+1.5, y+1.6, 2.2, false, canvas.Left, fmt.Sprintf("500 mm; 1 : %.0f; %d flaws", 1/scale, shown))
}

// likelyShown is the probability from which a candidate counts in the record.
const likelyShown = 0.5

func (p *claimPages) outlined(path *canvas.Path, width float64) {
	p.ctx.Push()
	p.ctx.SetFillColor(canvas.Transparent)
	p.ctx.SetStrokeColor(plotBlack)
	p.ctx.SetStrokeWidth(width)
	p.ctx.DrawPath(0, 0, path)
	p.ctx.Pop()
}

// proof lists hashes, certificates and programs.
func (p *claimPages) proof() {
	p.heading("Certificate of the table")
	if len(p.claim.Certificates) == 0 {
		p.prose("No acceptance test of the table is on record for the rig files of these charts.")
	}
	for _, c := range p.claim.Certificates {
		verdictText := "not passed"
		if c.Pass {
			verdictText = "passed"
		}
		p.prose(fmt.Sprintf("Table %s, rig file %s: acceptance test of %s %s, limit %g %%, due again %s; attached, SHA-256 %s.", p.l.shown(c.Place), firstDigits(c.RigSHA256), c.Date, verdictText, c.Percent, c.Due, c.SHA256))
	}
	p.heading("Original photographs, by SHA-256")
	for i, h := range p.claim.Hides {
		none := ""
		if len(h.Images) == 0 {
			none = "the chart names no photographs"
		}
		p.hash(fmt.Sprintf("%d  %s", i+1, h.ID), none)
		for _, im := range h.Images {
			light := string(im.Light)
			if im.Tile > 0 {
				light += fmt.Sprintf(" %d", im.Tile)
			}
			p.hash("    "+light, im.SHA256)
		}
	}
	p.heading("Attached files, by SHA-256")
	for _, f := range p.claim.Files {
		p.hash(f.Name+", "+f.What, f.SHA256)
	}
	p.y -= 3
	p.prose("Program: " + p.claim.Program + ". A chart supports an inspector and does not replace one. This statement is made by the owner of the table; it is no verification by an authority.")
}

func (p *claimPages) hash(label, sum string) {
	p.need(4)
	p.name(p.l, claimMargin, p.y-3, 2.3, false, 70, label)
	p.text(claimMargin+74, p.y-3, 2.3, false, canvas.Left, sum)
	p.y -= 3.7
}

func (p *claimPages) foot() {
	p.need(30)
	y := p.y - 20
	for i, label := range []string{"Place and date", "Name and signature"} {
		x := claimMargin + 92*float64(i)
		p.line(x, y, x+80, y, 0.25, plotBlack)
		p.text(x, y-4.5, claimBody, false, canvas.Left, label)
	}
}
