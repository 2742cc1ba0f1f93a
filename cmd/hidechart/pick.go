package main

import (
	"context"
	"io"
	"os"
	"path/filepath"
	"slices"

	"github.com/spf13/cobra"

	"hidechart/export"
	"hidechart/hide"
	"hidechart/yield"
)

// pickFlags are the flags of `hidechart pick`.
type pickFlags struct {
	project string
	json    bool
	options yield.Options
}

func newPick() *cobra.Command {
	f := &pickFlags{options: yield.DefaultOptions()}
	c := &cobra.Command{
		Use:   "pick --project FILE CHART…",
		Short: "Say which hides to take for a project, and why",
		Long: `Weighs charts (a chart.json, its folder, or a folder of such folders) for a
project: look, article, substance, temper, pieces, number of sets, prices. Ranks the
hides with reasons, says which together make the order with the least waste, or cost
where all are priced, and what is left over. With one chart it says take it, leave it,
or look closer first. The project file is described in docs/yield.md.

It is an estimate to choose hides by. Leather that carries load or protects is judged
by a trained person under local rules.`,
		Example: "  hidechart pick --project satchel.project.yaml charts --json",
		Args:    cobra.MinimumNArgs(1),
		RunE:    f.run,
	}
	c.Flags().StringVar(&f.project, "project", "", "project file")
	c.Flags().Float64Var((*float64)(&f.options.FitCell), "fit-cell", 2, "raster on which pieces are tried, mm")
	c.Flags().IntVar(&f.options.Tries, "tries", f.options.Tries, "other orders of the pieces to try on each hide")
	c.Flags().IntVar(&f.options.Samples, "samples", f.options.Samples, "drawings of which candidates are real")
	c.Flags().Uint64Var(&f.options.Seed, "seed", f.options.Seed, "seed of the drawings and of the search")
	c.Flags().BoolVar(&f.json, "json", false, "print the result as JSON")
	if err := c.MarkFlagRequired("project"); err != nil {
		panic(err) // the flag is defined above
	}
	return c
}

func (f *pickFlags) run(c *cobra.Command, args []string) error {
	if err := f.options.Validate(); err != nil {
		return usageError{err}
	}
	if f.options.Tries < 0 {
		return usagef("--tries %d: want 0 or more", f.options.Tries)
	}
	project, err := yield.ReadProject(f.project)
	if err != nil {
		return err
	}
	var choices []yield.HideChoice
	var failures []yieldFailure
	var statuses []int
	for _, path := range chartsIn(args) {
		h, err := f.judge(c.Context(), project, path, choices)
		if c.Context().Err() != nil {
			return c.Context().Err()
		}
		if err != nil {
			failures = append(failures, yieldFailure{path, oneLine(err)})
			statuses = append(statuses, statusOf(err))
			continue
		}
		choices = append(choices, h)
	}
	picked := project.Pick(choices)
	if f.json {
		err = writeJSON(c.OutOrStdout(), struct {
			yield.Picked
			Failures []yieldFailure `json:"failures,omitempty"`
		}{picked, failures})
	} else {
		err = writePickText(c.OutOrStdout(), picked)
	}
	return tellChartFailures(c.ErrOrStderr(), failures, statuses, err)
}

// tellChartFailures prints the failures of a batch; err is what went wrong before.
func tellChartFailures(w io.Writer, failures []yieldFailure, statuses []int, err error) error {
	if err != nil || failures == nil {
		return err
	}
	lines := "failed:\n"
	for _, x := range failures {
		lines += "  " + x.Chart + ": " + x.Error + "\n"
	}
	if _, err := io.WriteString(w, lines); err != nil {
		return hide.Wrapf(hide.Internal, err, "print the failures")
	}
	return toldError{worst(statuses)}
}

func (f *pickFlags) judge(ctx context.Context, project yield.Project, path string, before []yield.HideChoice) (yield.HideChoice, error) {
	chart, err := export.ReadReviewed(path)
	if err != nil {
		return yield.HideChoice{}, err
	}
	id := chart.Capture.ID
	if slices.ContainsFunc(before, func(h yield.HideChoice) bool { return h.Hide == id }) {
		return yield.HideChoice{}, hide.Faultf(hide.Conflict, "a chart of hide %q was given already", id)
	}
	h, err := project.Judge(ctx, chart, f.options)
	if err != nil {
		return h, hide.Wrapf(hide.KindOf(err), err, "hide %s", id)
	}
	return h, nil
}

// chartsIn finds the charts of the arguments: a folder without a chart of its own
// stands for the charts in its folders, in the order of their names.
func chartsIn(args []string) []string {
	var out []string
	for _, path := range args {
		if _, err := os.Stat(filepath.Join(path, export.ChartName)); err == nil {
			out = append(out, path)
			continue
		}
		found, err := filepath.Glob(filepath.Join(globSafe(path), "*", export.ChartName))
		if err != nil || len(found) == 0 {
			found = []string{path}
		}
		out = append(out, found...)
	}
	return out
}

// globSafe escapes a path for filepath.Glob.
func globSafe(path string) string {
	var out []rune
	for _, r := range path {
		if slices.Contains([]rune{'*', '?', '[', '\\'}, r) {
			out = append(out, '\\')
		}
		out = append(out, r)
	}
	return string(out)
}
