package export

import (
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"github.com/tdewolff/canvas"

	"hidechart/hide"
)

// WriteProof writes the record of an acceptance test as JSON (hide.Proof).
// Error: Internal.
func WriteProof(w io.Writer, p hide.Proof) error {
	data, err := encodeJSON(p)
	if err != nil {
		return hide.Wrapf(hide.Internal, err, "acceptance record")
	}
	if _, err := w.Write(data); err != nil {
		return hide.Wrapf(hide.Internal, err, "acceptance record")
	}
	return nil
}

// Measures of the certificate in mm.
const (
	certMargin = 18.0
	certText   = 3.3 // font size of the tables
	certRow    = 5.2
	certFoot   = 34.0 // room kept for the signature on the last page
)

// certificate writes the pages of one record from top to bottom.
type certificate struct {
	*paper
	proof hide.Proof
	y     float64
	page  int
}

// WriteCertificate prints the record of an acceptance test as a dated A4 PDF:
// result, limit, templates, each run, the sums, the largest error, and when it
// is due again.
//
// Error: Invalid for a record without a date; Internal.
func WriteCertificate(w io.Writer, p hide.Proof) error {
	day, err := time.Parse(time.DateOnly, p.Date)
	if err != nil {
		return hide.Wrapf(hide.Invalid, err, "certificate: date")
	}
	pen, err := newPaper(paperA4, "Acceptance test, "+p.Place+", "+p.Date)
	if err != nil {
		return err
	}
	c := &certificate{paper: pen, proof: p}
	c.startPage()
	c.head()
	c.templates()
	c.runs()
	c.sums()
	c.notes()
	c.foot()
	return pen.finish(w, day)
}

func (c *certificate) startPage() {
	if c.page++; c.page > 1 {
		c.newPage(paperA4)
	}
	c.y = paperA4.height - certMargin
	c.text(paperA4.width-certMargin, certMargin-8, 2.8, false, canvas.Right, fmt.Sprintf("%s, %s, page %d", clipped(c.proof.Place, 60), c.proof.Date, c.page))
}

// need starts a new page when less than height is left.
func (c *certificate) need(height float64) bool {
	if c.y-height >= certMargin {
		return false
	}
	c.startPage()
	return true
}

func (c *certificate) head() {
	p := c.proof
	c.text(certMargin, c.y-5, 6, true, canvas.Left, "Acceptance test of a measuring table")
	c.y -= 13
	result, ink := "PASSED", canvas.Hex("#1a6b2d")
	if !p.Pass {
		result, ink = "FAILED", canvas.Hex("#b01c1c")
	}
	c.fill(canvas.Rectangle(34, 11).Translate(paperA4.width-certMargin-34, c.y-1), ink)
	c.white(paperA4.width-certMargin-17, c.y+2.6, 5.4, result)
	due := fmt.Sprintf("%s (every %d months: the user's own rule)", p.Due, p.Months)
	if !p.Pass {
		due = "at once, when the table is put right; until then not to be used where the limit counts"
	}
	rows := [][2]string{{"Table", clipped(p.Place, 48)}, {"Tested by", p.By}, {"Date", p.Date},
		{"Due again", due},
		{"Range of use", fmt.Sprintf("%s to %s", areaWords(p.Range[0]), areaWords(p.Range[1]))},
		{"Largest error allowed", fmt.Sprintf("%g %%, not below %s", p.Limit.Percent, areaWords(p.Limit.Least))},
		{"Largest error found", fmt.Sprintf("%+.2f dm² (%+.2f %%), %.0f %% of the limit: %s", p.Worst.Error.DM2(), p.Worst.Percent, 100*p.Worst.Share, p.Worst.What)},
		{"Within the stated ± (2u)", fmt.Sprintf("%d of %d runs", p.Within2U[0], p.Within2U[1])}}
	for _, r := range rows {
		c.text(certMargin, c.y, certText+0.2, false, canvas.Left, r[0])
		c.text(certMargin+44, c.y, certText+0.2, true, canvas.Left, clipped(r[1], 90))
		c.y -= certRow + 0.6
	}
	c.y -= 3
}

func areaWords(a hide.MM2) string { return fmt.Sprintf("%.2f dm² (%.2f ft²)", a.DM2(), a.Feet2()) }

// column is a column of a table: its heading, left or right edge and alignment.
type column struct {
	name  string
	x     float64
	right bool
}

func (c *certificate) row(columns []column, cells []string, bold bool) {
	for i, col := range columns {
		align := canvas.Left
		if col.right {
			align = canvas.Right
		}
		c.text(certMargin+col.x, c.y, certText, bold, align, cells[i])
	}
	c.y -= certRow
}

// table writes a heading and rows, and the heading again on every new page.
func (c *certificate) table(title string, columns []column, rows [][]string) {
	names := make([]string, len(columns))
	for i, col := range columns {
		names[i] = col.name
	}
	heading := func() {
		c.text(certMargin, c.y-1, 4.2, true, canvas.Left, title)
		c.y -= 8
		c.row(columns, names, true)
		c.line(certMargin, c.y+3.8, paperA4.width-certMargin, c.y+3.8, 0.25, canvas.Black)
	}
	c.need(8 + 3*certRow)
	heading()
	for _, r := range rows {
		if c.need(certRow) {
			heading()
		}
		c.row(columns, r, false)
	}
	c.y -= 3
}

func (c *certificate) templates() {
	columns := []column{{"Template", 0, false}, {"Known by", 34, false}, {"Area dm²", 104, true}, {"u dm²", 122, true}, {"Mean error dm²", 150, true}, {"SD dm²", 172, true}}
	var rows [][]string
	for _, t := range c.proof.Templates {
		rows = append(rows, []string{clipped(t.Name, 18), clipped(t.Source, 28), fmt.Sprintf("%.2f", t.Area.DM2()), fmt.Sprintf("%.3f", t.U.DM2()),
			fmt.Sprintf("%+.3f", t.MeanError.DM2()), fmt.Sprintf("%.3f", t.SD.DM2())})
	}
	c.table("Templates", columns, rows)
}

func (c *certificate) runs() {
	columns := []column{{"Run", 0, false}, {"Template", 9, false}, {"Position", 42, false}, {"Measured dm²", 110, true}, {"± 2u", 125, true},
		{"Error dm²", 142, true}, {"Limit", 154, true}, {"", 172, true}}
	var rows [][]string
	for i, r := range c.proof.Runs {
		rows = append(rows, []string{fmt.Sprint(i + 1), clipped(r.Template, 16), clipped(r.Position, 26), fmt.Sprintf("%.2f", r.Area.DM2()),
			fmt.Sprintf("%.2f", 2*r.U.DM2()), fmt.Sprintf("%+.2f", r.Error.DM2()), fmt.Sprintf("%.2f", r.Limit.DM2()), verdict(r.Pass)})
	}
	c.table("Runs", columns, rows)
}

func verdict(pass bool) string {
	if pass {
		return "ok"
	}
	return "FAILED"
}

func (c *certificate) sums() {
	columns := []column{{"Sum", 0, false}, {"Of", 14, false}, {"True dm²", 84, true}, {"Measured dm²", 110, true}, {"Error dm²", 134, true}, {"Limit", 150, true}, {"", 172, true}}
	var rows [][]string
	for _, s := range c.proof.Sums {
		rows = append(rows, []string{clipped(s.Name, 8), clipped(c.partsOf(s), 34), fmt.Sprintf("%.2f", s.True.DM2()), fmt.Sprintf("%.2f", s.Area.DM2()),
			fmt.Sprintf("%+.2f", s.Error.DM2()), fmt.Sprintf("%.2f", s.Limit.DM2()), verdict(s.Pass)})
	}
	c.table("Summation test", columns, rows)
}

// partsOf names the runs that a sum is made of; charts that are no run are counted.
func (c *certificate) partsOf(s hide.ProofSum) string {
	var runs []string
	others := 0
	for _, name := range s.Charts {
		i := slices.IndexFunc(c.proof.Runs, func(r hide.ProofRun) bool { return r.Chart == name })
		if i < 0 {
			others++
			continue
		}
		runs = append(runs, fmt.Sprint(i+1))
	}
	switch {
	case len(runs) == 0:
		return fmt.Sprintf("%d charts", others)
	case others == 0:
		return "runs " + strings.Join(runs, ", ")
	}
	return fmt.Sprintf("runs %s and %d more charts", strings.Join(runs, ", "), others)
}

func (c *certificate) notes() {
	p := c.proof
	lines := []string{
		"Procedure: at least five runs of each template in different positions, templates near both ends of the range, summation test three times " +
			"(Dz.U.2008.4.26, § 10). Here a sum is the areas of several templates measured one after the other.",
		fmt.Sprintf("Program %s, OpenCV %s, settings and note of run 1 %s, rig file %s.", p.MadeBy.Version, p.MadeBy.OpenCV, firstDigits(p.MadeBy.SettingsSHA256), firstDigits(p.RigSHA256)),
		"This is the record of a test by the table's user. It is no verification by an authority and does not make the table a legal measure.",
	}
	flagged := map[string]int{}
	var order []string
	for _, r := range p.Runs {
		for _, f := range r.Flags {
			if flagged[f]++; flagged[f] == 1 {
				order = append(order, f)
			}
		}
	}
	for _, f := range order {
		lines = append(lines, fmt.Sprintf("Flag on %d runs: %s.", flagged[f], strings.ReplaceAll(f, "_", " ")))
	}
	for _, l := range append(lines, p.Notes...) {
		c.need(12)
		c.y -= c.textBox(certMargin, c.y+3, paperA4.width-2*certMargin, 3, false, l) + 1.2
	}
}

// firstDigits is enough of a hash to tell two files apart by eye; the JSON
// record has all of it.
func firstDigits(hash string) string {
	if len(hash) > 12 {
		return hash[:12] + "…"
	}
	return hash
}

func (c *certificate) foot() {
	c.need(certFoot)
	y := c.y - 20
	for i, label := range []string{"Place and date", "Name and signature"} {
		x := certMargin + 92*float64(i)
		c.line(x, y, x+80, y, 0.25, canvas.Black)
		c.text(x, y-4.5, 3, false, canvas.Left, label)
	}
}

// clipped keeps the start of a long text.
func clipped(s string, most int) string {
	r := []rune(s)
	if len(r) <= most {
		return s
	}
	return string(r[:most-1]) + "…"
}

// white writes a centred bold line in white.
func (c *certificate) white(x, y, size float64, s string) {
	face := c.bold.Face(size/pointMM, canvas.White)
	c.ctx.DrawText(x, y, canvas.NewTextLine(face, s, canvas.Center))
}
