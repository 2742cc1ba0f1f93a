package main

import (
	"fmt"
	"io"
	"strings"
	"text/tabwriter"

	"hidechart/hide"
	"hidechart/yield"
)

// writePickText prints the answer to a project for people.
func writePickText(w io.Writer, p yield.Picked) error {
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	fmt.Fprintf(t, "project %s\n", p.Project)
	fmt.Fprintf(t, "rank\thide\t\tsets\t10–90 %%\tcuttable\twaste\tcost a set\t\n")
	for _, h := range p.Hides {
		cost := "–"
		if h.PerSet != nil {
			cost = fmt.Sprintf("%.2f %s", *h.PerSet, p.Currency)
		}
		fmt.Fprintf(t, "%d\t%s\t%s\t%d\t%.0f–%.0f\t%.0f %%\t%.0f %%\t%s\t\n", h.Rank, h.Hide, h.Verdict, h.Sets, h.SetsIn.P10, h.SetsIn.P90,
			100*h.Cuttable.Median, 100*h.WasteShare, cost)
	}
	if err := t.Flush(); err != nil {
		return hide.Wrapf(hide.Internal, err, "print the result")
	}
	var b strings.Builder
	for _, h := range p.Hides {
		fmt.Fprintf(&b, "%s: %s: %s\n", h.Hide, h.Verdict, strings.Join(h.Reasons, "; "))
		for _, n := range h.Notes {
			b.WriteString("  note: " + n + "\n")
		}
		if len(h.Beside) > 0 {
			b.WriteString("  beside whole sets: " + strings.Join(h.Beside, ", ") + "\n")
		}
	}
	if p.Together != nil {
		writeTogether(&b, *p.Together, p.Currency)
	}
	for _, n := range p.Warnings {
		b.WriteString("note: " + n + "\n")
	}
	if _, err := io.WriteString(w, b.String()); err != nil {
		return hide.Wrapf(hide.Internal, err, "print the result")
	}
	return nil
}

func writeTogether(b *strings.Builder, t yield.Together, currency string) {
	fmt.Fprintf(b, "for %d sets take:\n", t.Wanted)
	for _, h := range t.Hides {
		fmt.Fprintf(b, "  %s: %d sets, %.1f dm² of cuttable leather left over", h.Hide, h.Sets, h.LeftMM2.DM2())
		if h.Spare > 0 {
			fmt.Fprintf(b, ", enough for %d sets more", h.Spare)
		}
		b.WriteString("\n")
	}
	fmt.Fprintf(b, "  %.1f dm² of leather, %.0f %% of it waste", t.LeatherMM2.DM2(), 100*t.WasteShare)
	if t.PerSet != nil {
		fmt.Fprintf(b, "; %.2f %s, %.2f a set", *t.Cost, currency, *t.PerSet)
	}
	switch {
	case !t.Met:
	case t.Proven && t.ByCost:
		b.WriteString("; no choice costs less")
	case t.Proven:
		b.WriteString("; no choice takes less leather")
	case t.ByCost:
		fmt.Fprintf(b, "; any choice costs %.2f at least", t.LeastCost)
	default:
		fmt.Fprintf(b, "; any choice takes %.1f dm² at least", t.LeastMM2.DM2())
	}
	b.WriteString("\n")
	for _, w := range t.Words {
		b.WriteString("  " + w + "\n")
	}
}
