package main

import (
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"hidechart/calibrate"
	"hidechart/export"
	"hidechart/hide"
)

type rigLogFlags struct {
	out        string
	falseEvery float64
}

func newRigLog() *cobra.Command {
	var f rigLogFlags
	cmd := &cobra.Command{
		Use:   "log CHART…",
		Short: "Show the tags' residuals over time and say when something has moved",
		Long: `Reads charts (files or their folders) of one table, prints the tags' residuals
over time, draws them (OUT) and says when a tag, the table, or lens and focus have
changed.

A chart's day is the first date such as 2026-03-31 in the capture's note; without
one, the time of its file. An alarm is a lasting change of level, not one bad
capture (that one has its own flags). The stated rate of false alarms holds for
all tags together; the first ten charts or so of a rig file only build the
reference. A camera that was shifted, turned or zoomed is told by what the middle
of its picture looks at; areas hold, for its place is found anew in every capture.

Exit status 0: nothing has changed since the last alarm or at all; 1: the last
ten charts hold an alarm. A camera that has moved is no alarm.`,
		Example: "  hidechart rig log --out drift.png charts/*/chart.json",
		Args:    cobra.MinimumNArgs(1),
		RunE:    func(cmd *cobra.Command, paths []string) error { return runRigLog(cmd, f, paths) },
	}
	cmd.Flags().StringVar(&f.out, "out", "drift.png", "the picture to write; empty: none")
	cmd.Flags().Float64Var(&f.falseEvery, "false-every", calibrate.DefaultDriftParams().FalseEvery, "charts from one false alarm to the next")
	return cmd
}

// recent is how many of the last charts an alarm must lie in to count as news.
const recent = 10

func runRigLog(cmd *cobra.Command, f rigLogFlags, paths []string) error {
	p := calibrate.DefaultDriftParams()
	p.FalseEvery = f.falseEvery
	if err := p.Validate(); err != nil {
		return usageError{err}
	}
	var entries []calibrate.DriftEntry
	for _, path := range paths {
		if err := cmd.Context().Err(); err != nil {
			return err
		}
		e, err := driftEntry(path)
		if err != nil {
			return err
		}
		entries = append(entries, e)
	}
	log, err := calibrate.Drift(entries, p)
	if err != nil {
		return err
	}
	if f.out != "" {
		err := export.WriteFile(f.out, func(w io.Writer) error { return export.WriteDriftChart(w, driftChart(log, p)) })
		if err != nil {
			return err
		}
	}
	if err := writeDrift(cmd.OutOrStdout(), log, p); err != nil {
		return err
	}
	if n := len(log.Alarms); n > 0 && log.Alarms[n-1].At >= len(log.Entries)-recent {
		return toldError{statusOther}
	}
	return nil
}

func driftEntry(path string) (calibrate.DriftEntry, error) {
	info, err := os.Stat(path)
	if err == nil && info.IsDir() {
		path = filepath.Join(path, "chart.json")
		info, err = os.Stat(path)
	}
	if err != nil {
		return calibrate.DriftEntry{}, hide.Wrapf(hide.Unreadable, err, "chart")
	}
	chart, err := export.ReadChart(path)
	if err != nil {
		return calibrate.DriftEntry{}, err
	}
	name := chart.Capture.ID
	if name == "" {
		name = filepath.Base(filepath.Dir(path))
	}
	return calibrate.NewDriftEntry(name, chart, info.ModTime().UTC()), nil
}

func driftName(tag int) string {
	if tag == calibrate.AllTags {
		return "all tags"
	}
	return fmt.Sprintf("tag %d", tag)
}

func driftChart(log calibrate.DriftLog, p calibrate.DriftParams) export.DriftChart {
	c := export.DriftChart{Title: fmt.Sprintf("Residuals of the tags over %d charts", len(log.Entries)), Rigs: log.Rigs, Note: driftNote(log, p)}
	for _, e := range log.Entries {
		c.When = append(c.When, e.When)
	}
	alarmed := map[int]bool{}
	for _, a := range log.Alarms {
		alarmed[a.Tag] = true
		c.Marks = append(c.Marks, export.DriftMark{At: a.At, Text: a.String()})
	}
	for _, m := range log.Camera {
		c.Marks = append(c.Marks, export.DriftMark{At: m.At, Text: m.String()})
	}
	slices.SortStableFunc(c.Marks, func(a, b export.DriftMark) int { return a.At - b.At })
	for _, s := range log.Series {
		l := export.DriftLine{Name: driftName(s.Tag), Strong: s.Tag == calibrate.AllTags, Alarm: alarmed[s.Tag]}
		for _, v := range s.Values {
			l.Values = append(l.Values, float64(v))
		}
		c.Lines = append(c.Lines, l)
	}
	return c
}

func driftNote(log calibrate.DriftLog, p calibrate.DriftParams) string {
	return fmt.Sprintf("CUSUM of sequential ranks (Page 1954, McDonald 1990), k = %g, h = %.2f: at most one false alarm in %g charts, all tags together.",
		p.Allowance, log.Limit, p.FalseEvery)
}

// writeDrift prints a line for each chart and each alarm.
func writeDrift(w io.Writer, log calibrate.DriftLog, p calibrate.DriftParams) error {
	var b strings.Builder
	fmt.Fprintf(&b, "day         from  chart                     tags  median mm  worst mm  tag\n")
	for i, e := range log.Entries {
		if slices.Contains(log.Rigs, i) {
			b.WriteString("            another rig file from here on\n")
		}
		id, worst := worstTag(e)
		from := "file"
		if e.Noted {
			from = "note"
		}
		if id < 0 {
			fmt.Fprintf(&b, "%s  %s  %-24s     0\n", e.When.Format(time.DateOnly), from, e.Name)
			continue
		}
		fmt.Fprintf(&b, "%s  %s  %-24s  %4d  %9.2f  %8.2f  %3d\n", e.When.Format(time.DateOnly), from, e.Name, len(e.Tags), float64(log.Series[0].Values[i]), worst, id)
		for _, m := range e.Moved {
			fmt.Fprintf(&b, "            flagged then: %s\n", m)
		}
	}
	b.WriteString("\n")
	for _, a := range log.Alarms {
		fmt.Fprintf(&b, "%s, seen in %s, since about %s\n", a, log.Entries[a.At].Name, log.Entries[a.Since].When.Format(time.DateOnly))
	}
	for _, m := range log.Camera {
		fmt.Fprintf(&b, "%s; since %s, %s\n", m, log.Entries[m.At].Name, log.Entries[m.At].When.Format(time.DateOnly))
	}
	if len(log.Alarms) == 0 && len(log.Camera) == 0 {
		fmt.Fprintf(&b, "no lasting change\n")
	}
	fmt.Fprintf(&b, "%s\n", driftNote(log, p))
	_, err := io.WriteString(w, b.String())
	return err
}

// worstTag is the tag with the largest residual; -1 when the chart has none.
func worstTag(e calibrate.DriftEntry) (int, float64) {
	id, most := -1, math.Inf(-1)
	for i, v := range e.Tags {
		if float64(v) > most || (float64(v) == most && i < id) {
			id, most = i, float64(v)
		}
	}
	return id, most
}
