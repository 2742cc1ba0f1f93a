package main

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"hidechart/export"
	"hidechart/hide"
	"hidechart/record"
	"hidechart/yield"
)

func newRecordsSheet(f *recordFlags) *cobra.Command {
	var sc hide.SheetScope
	var out, date string
	var looks []string
	c := &cobra.Command{
		Use:   "sheet [--supplier NAME] [--lot LOT] [--article NAME] [--month 2026-03]",
		Short: "Draw up the sheet of a supplier, a lot or a month",
		Long: `Draws up one page about the hides in scope: a PDF, a web page, tables as CSV and
as one XLSX. Every figure has its n and its interval of 95 %.`,
		Example: "  hidechart records sheet --supplier 'Moorhen Hollow Tannery (invented)' --out sheets",
		Args:    cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			day, err := dayOf(date)
			if err != nil {
				return err
			}
			return f.with(c, false, func(s *record.Store) error {
				for _, l := range looks {
					if err := fillYields(c, s, sc, l); err != nil {
						return err
					}
				}
				sheet, err := s.Sheet(c.Context(), sc, day)
				if err != nil {
					return err
				}
				if f.json {
					return writeJSON(c.OutOrStdout(), sheet)
				}
				return writeSheet(c.OutOrStdout(), out, sheet)
			})
		},
	}
	scopeFlags(c, &sc)
	c.Flags().StringVar(&out, "out", ".", "folder for the files, made if missing")
	c.Flags().StringVar(&date, "date", "", "day printed on the sheet; default: today")
	c.Flags().StringSliceVar(&looks, "look", nil, "work out yields under these looks first: names or files")
	return c
}

func dayOf(date string) (time.Time, error) {
	if date == "" {
		return time.Now(), nil
	}
	day, err := time.Parse(time.DateOnly, date)
	if err != nil {
		return day, usagef("--date %q: want a day as 2026-03-31", date)
	}
	return day, nil
}

// sheetName is the files' name without its ending.
func sheetName(sc hide.SheetScope) string {
	var parts []string
	for _, p := range []string{sc.Supplier, sc.Lot, sc.Article, sc.Month} {
		if p != "" {
			parts = append(parts, export.SafeName(p))
		}
	}
	if len(parts) == 0 {
		return "all"
	}
	return strings.Join(parts, " ")
}

// writeSheet writes a sheet in all its forms and prints their paths.
func writeSheet(w io.Writer, dir string, s hide.Sheet) error {
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return hide.Wrapf(hide.Internal, err, "sheet")
	}
	base := filepath.Join(dir, sheetName(s.Scope))
	type file struct {
		path  string
		write func(io.Writer) error
	}
	files := []file{
		{base + ".pdf", func(w io.Writer) error { return export.WriteSheetPDF(w, s) }},
		{base + ".html", func(w io.Writer) error { return export.WriteSheetPage(w, s) }},
		{base + ".xlsx", func(w io.Writer) error { return export.WriteTablesXLSX(w, export.SheetTables(s)) }},
	}
	for _, t := range export.SheetTables(s) {
		files = append(files, file{base + " " + t.Name + ".csv", func(w io.Writer) error { return export.WriteTableCSV(w, t) }})
	}
	for _, x := range files {
		if err := export.WriteFile(x.path, x.write); err != nil {
			return err
		}
		if _, err := fmt.Fprintln(w, x.path); err != nil {
			return hide.Wrapf(hide.Internal, err, "print the path")
		}
	}
	return nil
}

func newRecordsClaim(f *recordFlags) *cobra.Command {
	var supplier, out, by, grade, date string
	c := &cobra.Command{
		Use:   "claim LOT --by NAME",
		Short: "Draw up a claim about a lot: a dated PDF/A with the charts attached",
		Long: `Draws up what a lot was measured to be against what was promised, as a PDF/A-3b
with every chart, review and certificate attached and listed by its hash. The
wording is neutral. records verify checks such a file.`,
		Example: "  hidechart records claim SD-2603 --by 'Ada Example' --grade iso-17551 --out claims",
		Args:    cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			day, err := dayOf(date)
			if err != nil {
				return err
			}
			if by == "" {
				return usagef("say who makes the claim: --by NAME")
			}
			return f.with(c, false, func(s *record.Store) error { return claim(c, s, supplier, args[0], out, by, grade, day) })
		},
	}
	c.Flags().StringVar(&supplier, "supplier", "", "whose lot, where two suppliers use one name")
	c.Flags().StringVar(&out, "out", ".", "folder for the file, made if missing")
	c.Flags().StringVar(&by, "by", "", "who makes the claim (needed)")
	c.Flags().StringVar(&grade, "grade", "", "rule to grade by; default: that of the grade promised, if one is on record")
	c.Flags().StringVar(&date, "date", "", "day printed on it; default: today")
	return c
}

func claim(c *cobra.Command, s *record.Store, supplier, lot, out, by, rule string, day time.Time) error {
	l, err := s.FindLot(c.Context(), supplier, lot)
	if err != nil {
		return err
	}
	o := record.ClaimOptions{By: by, Day: day, Program: "hidechart " + version}
	if rule == "" {
		rule = l.PromisedRule
	}
	if rule != "" {
		r, err := yield.FindGradeRule(rule)
		if err != nil {
			return err
		}
		o.Rule = r.Name
		for _, g := range r.Grades {
			o.Order = append(o.Order, g.Grade)
		}
		o.Grade = func(chart hide.Chart) (string, string, error) {
			g, err := yield.GradeHide(chart, r, yield.DefaultParams().Likely)
			return g.Grade, strings.Join(append([]string{g.Sentence}, g.Because...), "; "), err
		}
	}
	claim, files, err := s.Claim(c.Context(), l.Supplier, l.Lot, o)
	if err != nil {
		return err
	}
	var charts []hide.Chart
	for _, h := range claim.Hides {
		data, review, err := s.ChartOf(c.Context(), h.ChartSHA256)
		if err != nil {
			return err
		}
		chart, err := readFiled(data, review)
		if err != nil {
			return err
		}
		charts = append(charts, chart)
	}
	return putClaim(c, s, claim, charts, files, out)
}

// putClaim writes the file and notes its hash in the record.
func putClaim(c *cobra.Command, s *record.Store, claim hide.Claim, charts []hide.Chart, files []hide.Attachment, dir string) error {
	var b bytes.Buffer
	if err := export.WriteClaim(&b, claim, charts, files); err != nil {
		return err
	}
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return hide.Wrapf(hide.Internal, err, "claim")
	}
	name := "claim " + export.SafeName(claim.Lot) + " " + claim.Date + ".pdf"
	if err := export.WriteFile(filepath.Join(dir, name), func(w io.Writer) error { _, err := w.Write(b.Bytes()); return err }); err != nil {
		return err
	}
	sum := sha256.Sum256(b.Bytes())
	if err := s.PutClaim(c.Context(), claim.Supplier, claim.Lot, hex.EncodeToString(sum[:]), name, time.Now()); err != nil {
		return err
	}
	if _, err := fmt.Fprintln(c.OutOrStdout(), filepath.Join(dir, name)); err != nil {
		return hide.Wrapf(hide.Internal, err, "print the path")
	}
	return nil
}

// verifyResult is what `records verify --json` prints.
type verifyResult struct {
	export.ClaimCheck
	Record string   `json:"record,omitempty"` // what the record says of the file
	Notes  []string `json:"notes"`
}

func newRecordsVerify(f *recordFlags) *cobra.Command {
	var photographs string
	c := &cobra.Command{
		Use:   "verify FILE",
		Short: "Check the hashes of a claim, against the record and the photographs too",
		Long: `Checks every file attached to a claim against the list in it. With a record, says
whether this is byte for byte a claim that it made, and whether it holds the charts.
With --photographs, looks below that folder for the original photographs by their
hashes.`,
		Args: cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			check, err := export.VerifyClaim(args[0])
			if err != nil {
				return err
			}
			r := verifyResult{ClaimCheck: check, Notes: []string{}}
			if err := f.againstRecord(c, &r); err != nil {
				return err
			}
			if photographs != "" {
				if err := againstPhotographs(&r, photographs); err != nil {
					return err
				}
			}
			if err := f.tell(c, r, func(say func(string, ...any)) { sayVerified(say, r) }); err != nil {
				return err
			}
			if len(r.Faults) > 0 {
				return toldError{statusBadInput}
			}
			return nil
		},
	}
	c.Flags().StringVar(&photographs, "photographs", "", "folder to look for the original photographs in")
	return c
}

// againstRecord asks the record, if one is named or there.
func (f *recordFlags) againstRecord(c *cobra.Command, r *verifyResult) error {
	s, err := f.open(c.Context(), false)
	if err != nil {
		if f.where != "" {
			return err
		}
		r.Notes = append(r.Notes, "not compared with a record: none was named")
		return nil
	}
	defer func() { _ = s.Close() }() // read only
	lot, at, found, err := s.MadeClaim(c.Context(), r.SHA256)
	if err != nil {
		return err
	}
	if found {
		r.Record = fmt.Sprintf("byte for byte the claim about lot %s that this record made at %s", lot, at)
	} else {
		r.Faults = append(r.Faults, "this record made no claim of these bytes")
	}
	for _, h := range r.Claim.Hides {
		known, counts, err := s.KnowsChart(c.Context(), h.ChartSHA256)
		switch {
		case err != nil:
			return err
		case !known:
			r.Faults = append(r.Faults, "the chart of hide "+h.ID+" was never filed here")
		case !counts:
			r.Notes = append(r.Notes, "the chart of hide "+h.ID+" has been superseded since")
		}
	}
	return nil
}

// againstPhotographs looks for every photograph that the claim names.
func againstPhotographs(r *verifyResult, dir string) error {
	want := map[string]string{}
	for _, h := range r.Claim.Hides {
		for _, im := range h.Images {
			want[im.SHA256] = h.ID + ", " + string(im.Light)
		}
	}
	total := len(want)
	err := filepath.WalkDir(dir, func(path string, d os.DirEntry, err error) error {
		if err != nil || !d.Type().IsRegular() || len(want) == 0 {
			return err
		}
		file, err := os.Open(path)
		if err != nil {
			return err
		}
		defer func() { _ = file.Close() }() // read only
		sum := sha256.New()
		if _, err := io.Copy(sum, file); err != nil {
			return err
		}
		delete(want, hex.EncodeToString(sum.Sum(nil)))
		return nil
	})
	if err != nil {
		return hide.Wrapf(hide.Unreadable, err, "photographs")
	}
	for _, name := range want {
		r.Faults = append(r.Faults, "photograph not found by its hash: "+name)
	}
	r.Notes = append(r.Notes, fmt.Sprintf("%d of %d photographs found as they were", total-len(want), total))
	return nil
}

func sayVerified(say func(string, ...any), r verifyResult) {
	ok := 0
	for _, x := range r.Files {
		if x.OK {
			ok++
		}
	}
	say("claim about lot %s of %s, %s\n", oneLineText(r.Claim.Lot), oneLineText(r.Claim.Supplier), r.Claim.Date)
	say("%d of %d attached files are as listed\n", ok, len(r.Files))
	say("list of files: SHA-256 %s; compare with the first page\n", r.ListSum)
	if r.Record != "" {
		say("%s\n", r.Record)
	}
	for _, n := range r.Notes {
		say("%s\n", n)
	}
	for _, x := range r.Faults {
		say("FAULT: %s\n", x)
	}
	if len(r.Faults) == 0 {
		say("nothing is wrong\n")
	}
}
