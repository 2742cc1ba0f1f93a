package export

import (
	"encoding/csv"
	"io"
	"strconv"
	"strings"

	"hidechart/hide"
)

// csvHeader names the columns; docs/files.md says what each holds.
func csvHeader() []string {
	return []string{"hide", "supplier", "lot", "article", "id", "kind", "status", "probability", "open", "zone", "area_mm2", "length_mm",
		"width_mm", "count", "edge_distance_mm", "centre_x_mm", "centre_y_mm", "lights", "advice",
		"area_u_mm2", "length_u_mm", "width_u_mm", "edge_distance_u_mm"}
}

// WriteCSV writes one line per defect, rejected ones included, with a header
// (RFC 4180: comma, CRLF, quotes doubled; UTF-8). The hide stands on every line,
// so that tables of many hides can be put together. Text that a spreadsheet
// would run as a formula gets a leading apostrophe.
func WriteCSV(w io.Writer, c hide.Chart) error {
	out := csv.NewWriter(w)
	out.UseCRLF = true
	if err := out.Write(csvHeader()); err != nil {
		return hide.Wrapf(hide.Internal, err, "csv")
	}
	for _, d := range c.Defects {
		if err := out.Write(csvRow(c, d)); err != nil {
			return hide.Wrapf(hide.Internal, err, "csv")
		}
	}
	out.Flush()
	if err := out.Error(); err != nil {
		return hide.Wrapf(hide.Internal, err, "csv")
	}
	return nil
}

func csvRow(c hide.Chart, d hide.Defect) []string {
	lights := make([]string, len(d.Lights))
	for i, l := range d.Lights {
		lights[i] = string(l)
	}
	count := ""
	if d.Count > 0 {
		count = strconv.Itoa(d.Count)
	}
	at := shapeBox(d.Geometry)
	return []string{guarded(c.Capture.ID), guarded(c.Capture.Supplier), guarded(c.Capture.Lot), guarded(c.Capture.Article),
		strconv.Itoa(d.ID), string(d.Kind), string(d.Status), number(d.Probability), strconv.FormatBool(d.Open), string(d.Zone),
		number(float64(d.Area)), number(float64(d.Length)), number(float64(d.Width)), count, number(float64(d.EdgeDistance)),
		number((at.minX + at.maxX) / 2), number((at.minY + at.maxY) / 2), strings.Join(lights, " "), guarded(d.Advice),
		stated(float64(d.AreaU)), stated(float64(d.LengthU)), stated(float64(d.WidthU)), stated(float64(d.EdgeDistanceU))}
}

// stated is empty for an uncertainty that nobody stated.
func stated(u float64) string {
	if u == 0 {
		return ""
	}
	return number(u)
}

// guarded stops a spreadsheet from running text as a formula: one that begins
// with = + - @, a tab or a line end gets a leading apostrophe (common advice for
// CSV injection). Full-width forms count too, some spreadsheets fold them. Line
// ends become LF, which the writer turns into the CRLF of RFC 4180; NUL, which
// readers refuse, becomes a replacement character.
func guarded(s string) string {
	s = strings.NewReplacer("\x00", "\uFFFD").Replace(strings.ToValidUTF8(s, "\uFFFD"))
	danger := s != "" && strings.ContainsAny(firstRune(strings.TrimLeft(s, " ")), "=+-@\t\r\n＝＋－＠")
	s = strings.NewReplacer("\r\n", "\n", "\r", "\n").Replace(s)
	if danger {
		return "'" + s
	}
	return s
}

func firstRune(s string) string {
	for _, r := range s {
		return string(r)
	}
	return ""
}
