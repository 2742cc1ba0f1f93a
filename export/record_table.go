package export

import (
	"encoding/csv"
	"fmt"
	"io"
	"strconv"

	"github.com/xuri/excelize/v2"

	"hidechart/hide"
)

// SheetTable is one table of a sheet: a header line and rows of text and numbers.
type SheetTable struct {
	Name   string
	Header []string
	Rows   [][]any // string, int, float64; nil: empty
}

// SheetTables are all figures of a sheet as tables, each figure with its n and interval.
func SheetTables(s hide.Sheet) []SheetTable {
	return []SheetTable{summaryTable(s), lotTable(s), rateTable(s), lossTable(s), contrastTable(s), placeTable(s), repeatTable(s)}
}

func estimate(e hide.Estimate) []any {
	if !e.Known {
		return []any{e.N, e.Value, nil, nil}
	}
	return []any{e.N, e.Value, e.Low, e.High}
}

func summaryTable(s hide.Sheet) SheetTable {
	t := SheetTable{Name: "summary", Header: []string{"figure", "n", "value", "low", "high", "unit", "note"}}
	add := func(name string, e hide.Estimate, unit, note string) {
		t.Rows = append(t.Rows, append(append([]any{name}, estimate(e)...), unit, note))
	}
	plain := func(name string, v float64, unit string) {
		t.Rows = append(t.Rows, []any{name, s.Hides, v, nil, nil, unit, ""})
	}
	for _, x := range [][2]string{{"supplier", s.Scope.Supplier}, {"lot", s.Scope.Lot}, {"article", s.Scope.Article}, {"month", s.Scope.Month}, {"drawn up", s.Made}} {
		if x[1] != "" {
			t.Rows = append(t.Rows, []any{x[0], nil, nil, nil, nil, nil, x[1]})
		}
	}
	plain("hides", float64(s.Hides), "")
	plain("sides among them", float64(s.Sides), "")
	plain("area", s.AreaM2, "m²")
	plain("hides reviewed", float64(s.Review.Hides), "")
	add("measured against stamped area", s.Stamp.Mean, "%", fmt.Sprintf("paired t = %.3f, df = %d, p = %.4g; sign test p = %.4g", s.Stamp.Test.T, s.Stamp.Test.DF, s.Stamp.Test.P, s.Stamp.Test.SignP))
	add("measured against stamped area, with the table's own uncertainty", s.Stamp.Whole, "%", "")
	for _, y := range s.Yields {
		add("cuttable share, look "+y.Look, y.Share, "of the leather", fmt.Sprintf("mean 10 %% and 90 %% points %.3f and %.3f; hides in scope %d", y.P10, y.P90, y.Of))
	}
	return t
}

func lotTable(s hide.Sheet) SheetTable {
	t := SheetTable{Name: "lots", Header: []string{"supplier", "lot", "first filed", "hides", "area_m2", "flaws", "flaws_per_m2", "limit_low", "limit_high", "alarm", "price_per_m2", "currency"}}
	at := 0
	for _, l := range s.Lots {
		row := []any{l.Supplier, l.Lot, l.First, l.Hides, l.AreaM2, l.Flaws, nil, nil, nil, "", nil, l.Currency}
		if l.AreaM2 > 0 && at < len(s.Trend.Points) {
			p := s.Trend.Points[at]
			at++
			row[6], row[7], row[8] = p.U, p.Low, p.High
			if p.Alarm {
				row[9] = "outside"
			}
		}
		if l.Price > 0 {
			row[10] = l.Price
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

func allWord(v string) string {
	if v == "" {
		return "all"
	}
	return v
}

func rateTable(s hide.Sheet) SheetTable {
	t := SheetTable{Name: "flaws", Header: []string{"kind", "zone", "flaws", "area_m2", "hides", "per_m2", "low", "high", "model", "dispersion", "share_of_hides", "share_low", "share_high"}}
	for _, r := range s.Rates {
		row := append([]any{allWord(string(r.Kind)), allWord(string(r.Zone)), r.Count, r.AreaM2}, estimate(r.PerM2.Estimate)...)
		row = append(row, r.PerM2.Model, r.PerM2.Dispersion)
		t.Rows = append(t.Rows, append(row, estimate(r.HidesWith)[1:]...))
	}
	return t
}

func lossTable(s hide.Sheet) SheetTable {
	t := SheetTable{Name: "losses", Header: []string{"kind", "flaws", "area_m2", "percent of leather", "cumulative percent", "currency", "money", "area with a price_m2"}}
	for _, l := range s.Losses {
		row := []any{string(l.Kind), l.Count, l.AreaM2, l.Percent, l.Cumulative}
		if len(l.Money) == 0 {
			t.Rows = append(t.Rows, append(row, nil, nil, nil))
		}
		for _, m := range l.Money {
			t.Rows = append(t.Rows, append(append([]any{}, row...), m.Currency, m.Amount, m.AreaM2))
		}
	}
	return t
}

func contrastTable(s hide.Sheet) SheetTable {
	t := SheetTable{Name: "comparisons", Header: []string{"kind", "a", "b", "lots", "ratio", "low", "high", "p", "p after all comparisons", "differ", "why not"}}
	for _, c := range s.Compare {
		row := append([]any{allWord(string(c.Kind)), c.A, c.B}, estimate(c.Ratio)...)
		t.Rows = append(t.Rows, append(row, c.P, c.Holm, strconv.FormatBool(c.Differ), c.Reason))
	}
	return t
}

func placeTable(s hide.Sheet) SheetTable {
	t := SheetTable{Name: "places", Header: []string{"form", "kind", "zone", "u", "v", "hides", "of hides", "expected by chance", "p after all cells", "words"}}
	for _, p := range s.Places {
		t.Rows = append(t.Rows, []any{p.Form, string(p.Kind), string(p.Zone), p.U, p.V, p.Hides, p.Of, p.Expected, p.P, p.Text})
	}
	return t
}

func repeatTable(s hide.Sheet) SheetTable {
	t := SheetTable{Name: "repeats", Header: []string{"form", "kind", "zone", "u", "v", "hides", "of hides", "expected by chance", "p", "words"}}
	for _, r := range s.Repeats {
		t.Rows = append(t.Rows, []any{r.Form, string(r.Kind), string(r.Zone), r.U, r.V, len(r.Hides), r.Of, r.Expected, r.P, r.Text})
	}
	return t
}

// WriteTableCSV writes one table (RFC 4180: comma, CRLF, UTF-8). Text that a spreadsheet would run as a
// formula gets a leading apostrophe; see WriteCSV.
func WriteTableCSV(w io.Writer, t SheetTable) error {
	out := csv.NewWriter(w)
	out.UseCRLF = true
	if err := out.Write(t.Header); err != nil {
		return hide.Wrapf(hide.Internal, err, "csv")
	}
	for _, row := range t.Rows {
		cells := make([]string, len(row))
		for i, v := range row {
			switch v := v.(type) {
			case string:
				cells[i] = guarded(v)
			case int:
				cells[i] = strconv.Itoa(v)
			case float64:
				cells[i] = strconv.FormatFloat(v, 'g', 9, 64)
			}
		}
		if err := out.Write(cells); err != nil {
			return hide.Wrapf(hide.Internal, err, "csv")
		}
	}
	out.Flush()
	if err := out.Error(); err != nil {
		return hide.Wrapf(hide.Internal, err, "csv")
	}
	return nil
}

// WriteTablesXLSX writes tables as one workbook, a sheet each. Text is stored as text and
// never as a formula, so it stands there as it is. Characters that XML cannot hold
// become U+FFFD.
func WriteTablesXLSX(w io.Writer, tables []SheetTable) error {
	f := excelize.NewFile()
	defer func() { _ = f.Close() }() // in memory: nothing to lose
	bold, err := f.NewStyle(&excelize.Style{Font: &excelize.Font{Bold: true}})
	if err != nil {
		return hide.Wrapf(hide.Internal, err, "xlsx")
	}
	for i, t := range tables {
		if i == 0 {
			err = f.SetSheetName("Sheet1", t.Name)
		} else {
			_, err = f.NewSheet(t.Name)
		}
		if err == nil {
			err = fillXLSX(f, t, bold)
		}
		if err != nil {
			return hide.Wrapf(hide.Internal, err, "xlsx: %s", t.Name)
		}
	}
	if err := f.Write(w); err != nil {
		return hide.Wrapf(hide.Internal, err, "xlsx")
	}
	return nil
}

func fillXLSX(f *excelize.File, t SheetTable, bold int) error {
	rows := make([][]any, 0, len(t.Rows)+1)
	header := make([]any, len(t.Header))
	for i, h := range t.Header {
		header[i] = h
	}
	for r, row := range append(append(rows, header), t.Rows...) {
		for c, v := range row {
			cell, err := excelize.CoordinatesToCellName(c+1, r+1)
			if err != nil {
				return err
			}
			switch v := v.(type) {
			case nil:
			case string:
				err = f.SetCellStr(t.Name, cell, xmlText(v))
			default:
				err = f.SetCellValue(t.Name, cell, v)
			}
			if err != nil {
				return err
			}
		}
	}
	last, err := excelize.CoordinatesToCellName(len(t.Header), 1)
	if err != nil {
		return err
	}
	if err := f.SetCellStyle(t.Name, "A1", last, bold); err != nil {
		return err
	}
	return f.SetPanes(t.Name, &excelize.Panes{Freeze: true, YSplit: 1, TopLeftCell: "A2", ActivePane: "bottomLeft"})
}

// xmlText replaces what XML 1.0 cannot hold.
func xmlText(s string) string {
	out := []rune(s)
	for i, r := range out {
		if r < 0x20 && r != '\t' && r != '\n' && r != '\r' || r == 0xFFFE || r == 0xFFFF {
			out[i] = 0xFFFD
		}
	}
	return string(out)
}
