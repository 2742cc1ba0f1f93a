package main

import (
	"fmt"
	"io"
	"strings"
	"text/tabwriter"

	"hidechart/hide"
	"hidechart/pipeline"
)

// writeChartTable prints one line a hide.
func writeChartTable(w io.Writer, sum pipeline.Summary) error {
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	rows := 0
	fmt.Fprintln(t, "hide\tarea dm²\tft²\tmark\t±\tcuttable %¹\tcandidates\tflags")
	for _, r := range sum.Results {
		if r.Err != nil {
			continue
		}
		rows++
		d := r.Digest
		fmt.Fprintf(t, "%s\t%.1f\t%.2f\t%s\t%.1f\t%.1f\t%s\t%s\n", d.ID, d.Area.DM2(), d.Area.Feet2(), hide.QuarterMark(d.Area),
			2*d.U.DM2(), 100*d.Clear, kindsInWords(d.Kinds), flagsInWords(d.Flags))
	}
	if rows == 0 {
		return nil
	}
	if err := t.Flush(); err != nil {
		return hide.Wrapf(hide.Internal, err, "print the table")
	}
	_, err := fmt.Fprintln(w, "\nmark: quarter feet as stamped. ±: dm², twice the standard uncertainty (about 95 %). "+
		"¹ share of the hide clear of\ncandidates at least as likely as not; what a look accepts and which pieces fit is not judged here.")
	if err != nil {
		return hide.Wrapf(hide.Internal, err, "print the table")
	}
	return nil
}

// kindsInWords is "2 hole, 5 scar", in the order of hide.Kinds.
func kindsInWords(n map[hide.Kind]int) string {
	var parts []string
	for _, k := range hide.Kinds() {
		if n[k] > 0 {
			parts = append(parts, fmt.Sprintf("%d %s", n[k], k.Words()))
		}
	}
	if parts == nil {
		return "none"
	}
	return strings.Join(parts, ", ")
}

func flagsInWords(flags []hide.Flag) string {
	var codes []string
	for _, f := range flags {
		if len(codes) == 0 || codes[len(codes)-1] != f.Code { // flags come sorted by code
			codes = append(codes, f.Code)
		}
	}
	if codes == nil {
		return "–"
	}
	return strings.Join(codes, ", ")
}

// writeFailures lists every capture that gave no chart with its reason, and
// returns the batch's exit status as an error.
func writeFailures(w io.Writer, sum pipeline.Summary) error {
	failed := sum.Failed()
	if len(failed) == 0 {
		return nil
	}
	var statuses []int
	var text strings.Builder
	fmt.Fprintf(&text, "hidechart: %d of %d captures gave no chart:\n", len(failed), len(sum.Results))
	for _, r := range failed {
		fmt.Fprintf(&text, "  %s: %s\n", r.Job.Dir, oneLine(r.Err))
		statuses = append(statuses, statusOf(r.Err))
	}
	if _, err := io.WriteString(w, text.String()); err != nil {
		return hide.Wrapf(hide.Internal, err, "print the failures")
	}
	return toldError{worst(statuses)}
}
