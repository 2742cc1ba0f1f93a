package main

import (
	"fmt"
	"io"
	"strings"
	"text/tabwriter"

	"hidechart/hide"
	"hidechart/yield"
)

// writeYieldText prints results for people.
func writeYieldText(w io.Writer, results []yield.Result) error {
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	for i, r := range results {
		if i > 0 {
			fmt.Fprintln(t)
		}
		writeYield(t, r)
	}
	if err := t.Flush(); err != nil {
		return hide.Wrapf(hide.Internal, err, "print the result")
	}
	return nil
}

func writeYield(w *tabwriter.Writer, r yield.Result) {
	fmt.Fprintf(w, "%s, look %s: %s\n", r.Hide, r.Look, r.Band)
	fmt.Fprintf(w, "\tmedian\t10 %%\t90 %%\n")
	dm2 := func(v float64) float64 { return hide.MM2(v).DM2() }
	fmt.Fprintf(w, "area dm²\t%.1f\t%.1f\t%.1f\n", dm2(r.AreaMM2.Median), dm2(r.AreaMM2.P10), dm2(r.AreaMM2.P90))
	fmt.Fprintf(w, "cuttable dm²\t%.1f\t%.1f\t%.1f\n", dm2(r.CuttableMM2.Median), dm2(r.CuttableMM2.P10), dm2(r.CuttableMM2.P90))
	fmt.Fprintf(w, "cuttable %%\t%.1f\t%.1f\t%.1f\n", 100*r.CuttableShare.Median, 100*r.CuttableShare.P10, 100*r.CuttableShare.P90)
	for _, z := range r.Zones {
		fmt.Fprintf(w, "  %s %%\t%.1f\n", z.Zone, 100*z.Share)
	}
	if len(r.Refused) > 0 || r.RefusedChance > 0 {
		fmt.Fprintf(w, "refused for this look with a chance of %.0f %%; forbidden flaws: %v\n", 100*r.RefusedChance, r.Refused)
	}
	if len(r.LookFirst) > 0 {
		var ids []string
		for _, c := range r.LookFirst {
			ids = append(ids, fmt.Sprintf("%d (%.1f dm²)", c.ID, c.Gained.DM2()))
		}
		fmt.Fprintf(w, "look first at candidates %s\n", strings.Join(ids, ", "))
	}
	for _, text := range append(r.Unmet, r.Warnings...) {
		fmt.Fprintln(w, "note: "+text)
	}
	for _, g := range r.Grades {
		fmt.Fprintf(w, "%s: %s (%s; usable %.1f %%)\n", g.Rule, orDash(g.Grade), g.Sentence, g.Usable)
	}
	for _, path := range r.Files {
		fmt.Fprintln(w, "written: "+path)
	}
	if r.Sets == nil {
		return
	}
	fmt.Fprintf(w, "piece\tin a set\treaches dm²\tplaced\tat most\tnote\n")
	for _, p := range r.Pieces {
		fmt.Fprintf(w, "%s\t%d\t%.1f\t%d\t%d\t%s\n", p.Piece, p.Count, p.FitsMM2.DM2(), p.Placed, p.UpperBound, p.Note)
	}
	for _, x := range r.Substance {
		fmt.Fprintf(w, "%s lies on %.2f–%.2f mm by the map of the readings; too thin %d, to be split %d\n", x.Piece, x.Least, x.Most, x.TooThin, x.Split)
	}
	fmt.Fprintf(w, "whole sets: %d (10–90 %%: %.0f–%.0f), %.1f %% of the cuttable area in pieces\n", *r.Sets, r.SetsRange.P10, r.SetsRange.P90, 100**r.Used)
}

func orDash(s string) string {
	if s == "" {
		return "–"
	}
	return s
}
