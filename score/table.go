package score

import (
	"fmt"
	"io"
	"text/tabwriter"

	"hidechart/hide"
)

// WriteTable prints the result for people: one line a figure, its JSON name
// first, then the kinds, then what was missed and what was invented.
func (r Result) WriteTable(w io.Writer) error {
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	line := func(name, value, words string) { textf(t, "%s\t%s\t%s\n", name, value, words) }
	line("area_error", percent(&r.AreaError, true), "charted area against true area"+inU(r.AreaErrorInU))
	line("outline_iou", fmt.Sprintf("%.5f", r.OutlineIoU), "intersection over union of the outlines")
	line("neck_error_mm", length(r.NeckError), "backbone, neck end")
	line("tail_error_mm", length(r.TailError), "backbone, tail end")
	line("recall", percent(r.Recall, false), fmt.Sprintf("%d of %d true defects found", r.Found, r.TruthDefects))
	line("false_per_m2", fmt.Sprintf("%.2f", r.FalsePerM2), fmt.Sprintf("%d false candidates", r.FalseCandidates))
	line("false_area_share", percent(&r.FalseAreaShare, false), fmt.Sprintf("%.1f cm² wrongly covered", float64(r.FalseArea)/100))
	line("kind_accuracy", percent(r.KindAccuracy, false), "kind right, of those found")
	line("calibration_error", plain(r.CalibrationErr), fmt.Sprintf("of %d probabilities, %d bins", len(r.Candidates), bins))
	line("border_off_mm", plain(r.BorderOff), "between charted and true border, of those found as what they are")
	line("hole_recall", percent(r.HoleRecall, false), fmt.Sprintf("%d of %d holes of 3 mm or more", r.HolesHit, r.Holes))
	line("invented_holes", fmt.Sprint(r.InventedHoles), "holes where there is none")
	textf(t, "\n")
	textf(t, "kind\ttrue\tfound\tkind right\tfalse\n")
	for _, k := range r.ByKind {
		textf(t, "%s\t%d\t%d\t%d\t%d\n", k.Kind.Words(), k.TruthDefects, k.Found, k.KindRight, k.FalseCandidates)
	}
	if err := t.Flush(); err != nil {
		return hide.Wrapf(hide.Internal, err, "print result")
	}
	return r.writeMisses(w)
}

func (r Result) writeMisses(w io.Writer) error {
	var list string
	for _, o := range r.Truths {
		switch {
		case o.Hidden:
		case !o.Found:
			list += fmt.Sprintf("missed: truth %d, %s, %.0f %% covered\n", o.ID, o.Kind.Words(), 100*o.Share)
		case o.As != o.Kind:
			list += fmt.Sprintf("other kind: truth %d, %s, charted as %s (candidate %d)\n", o.ID, o.Kind.Words(), o.As.Words(), o.By)
		}
	}
	for _, c := range r.Candidates {
		if c.False {
			list += fmt.Sprintf("false: candidate %d, %s, probability %.2f\n", c.ID, c.Kind.Words(), c.Probability)
		}
	}
	if list == "" {
		return nil
	}
	if _, err := io.WriteString(w, "\n"+list); err != nil {
		return hide.Wrapf(hide.Internal, err, "print result")
	}
	return nil
}

// textf writes into the table's buffer; a failing writer shows at its Flush.
func textf(t *tabwriter.Writer, format string, args ...any) { _, _ = fmt.Fprintf(t, format, args...) }

func percent(v *float64, signed bool) string {
	switch {
	case v == nil:
		return "–"
	case signed:
		return fmt.Sprintf("%+.3f %%", 100**v)
	}
	return fmt.Sprintf("%.2f %%", 100**v)
}

func plain(v *float64) string {
	if v == nil {
		return "–"
	}
	return fmt.Sprintf("%.3f", *v)
}

func length(v *hide.MM) string {
	if v == nil {
		return "–"
	}
	return fmt.Sprintf("%.1f", float64(*v))
}

func inU(v *float64) string {
	if v == nil {
		return ""
	}
	return fmt.Sprintf(", %+.1f of its stated u", *v)
}
