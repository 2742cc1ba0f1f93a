package main

import (
	"context"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"hidechart/export"
	"hidechart/hide"
	"hidechart/yield"
)

// yieldFlags are the flags of `hidechart yield`.
type yieldFlags struct {
	look, pieces string
	grades       []string
	json         bool
	options      yield.Options
	to, quality  []string
	out          string
	cut          export.CutOptions
}

func newYield() *cobra.Command {
	f := &yieldFlags{options: yield.DefaultOptions(), cut: export.DefaultCutOptions()}
	c := &cobra.Command{
		Use:   "yield CHART… --look NAME [--pieces FILE] [--grade NAME,…]",
		Short: "Say what can be cut from a hide for a look and for pieces",
		Long: `Computes, for each chart (a chart.json or its folder), the cuttable area under a
look as a range, the candidates whose review moves it most, grades by published
rules, and for a drawing of pattern pieces (.svg, .dxf; notes in a .yaml of the
same name) where each piece can go and a layout. With --to it writes the cut plan:
` + cutFormatWords() + `
Described in docs/yield.md.

It is an estimate to compare hides and to plan with: cut by what you see on the
leather. Leather that carries load or protects is judged by a trained person.

Looks:  ` + strings.Join(yield.LookNames(), ", ") + `, or a file
Grades: ` + strings.Join(yield.GradeNames(), ", ") + `, or a file`,
		Example: "  hidechart yield charts/MH-0417-01 --look classic --pieces bag.svg --json",
		Args:    cobra.MinimumNArgs(1),
		RunE:    f.run,
	}
	c.Flags().StringVar(&f.look, "look", "classic", "look: a name or a file")
	c.Flags().StringVar(&f.pieces, "pieces", "", "drawing of the pieces of one set, .svg or .dxf")
	c.Flags().StringSliceVar(&f.grades, "grade", nil, "grade rules: names or files, separated by commas")
	c.Flags().IntVar(&f.options.Sets, "sets", 0, "sets to lay out; 0: as many as fit")
	c.Flags().Float64Var((*float64)(&f.options.FitCell), "fit-cell", float64(f.options.FitCell), "raster on which pieces are tried, mm")
	c.Flags().IntVar(&f.options.Tries, "tries", f.options.Tries, "other orders of the pieces to try for one set more")
	c.Flags().DurationVar(&f.options.TimeLimit, "time-limit", 0, "end that search after so long; 0: by --tries only, the same on every machine")
	c.Flags().StringSliceVar(&f.to, "to", nil, "formats of the cut plan, separated by commas")
	c.Flags().StringVar(&f.out, "out", ".", "folder for the cut plans")
	c.Flags().StringSliceVar(&f.quality, "quality", []string{"classic", "rustic"}, "looks that part the hide into qualities, the strictest first")
	c.Flags().StringVar(&f.cut.Paper, "paper", f.cut.Paper, "paper of the PDFs: A4 or A3")
	c.Flags().Float64Var(&f.cut.MMPerPX, "mm-per-px", f.cut.MMPerPX, "scale of the projection")
	c.Flags().IntVar(&f.options.Samples, "samples", f.options.Samples, "drawings of which candidates are real")
	c.Flags().Uint64Var(&f.options.Seed, "seed", f.options.Seed, "seed of the drawings")
	c.Flags().Float64Var(&f.options.Correlation, "correlation", f.options.Correlation, "between candidates of one kind, 0 to 1")
	c.Flags().BoolVar(&f.json, "json", false, "print the result as JSON")
	return c
}

// yieldFailure is a chart that gave no result.
type yieldFailure struct {
	Chart string `json:"chart"`
	Error string `json:"error"`
}

func (f *yieldFlags) run(c *cobra.Command, args []string) error {
	if f.options.Sets < 0 {
		return usagef("--sets %d: want 0 or more", f.options.Sets)
	}
	if err := f.options.Validate(); err != nil {
		return usageError{err}
	}
	if f.options.Tries < 0 || f.options.TimeLimit < 0 {
		return usagef("--tries %d, --time-limit %s: want 0 or more", f.options.Tries, f.options.TimeLimit)
	}
	if _, err := export.FindCutFormats(f.to); err != nil {
		return usageError{err}
	}
	look, pieces, err := f.read()
	if err != nil {
		return err
	}
	results := []yield.Result{}
	var failures []yieldFailure
	var statuses []int
	for _, path := range args {
		r, err := f.one(c.Context(), path, look, pieces)
		if err != nil {
			if c.Context().Err() != nil {
				return c.Context().Err()
			}
			failures = append(failures, yieldFailure{path, oneLine(err)})
			statuses = append(statuses, statusOf(err))
			continue
		}
		results = append(results, r)
	}
	if f.json {
		err = writeJSON(c.OutOrStdout(), struct {
			Results  []yield.Result `json:"results"`
			Failures []yieldFailure `json:"failures,omitempty"`
		}{results, failures})
	} else {
		err = writeYieldText(c.OutOrStdout(), results)
	}
	return tellChartFailures(c.ErrOrStderr(), failures, statuses, err)
}

// read reads the look, the grade rules and the pieces.
func (f *yieldFlags) read() (yield.Look, *yield.Pieces, error) {
	look, err := yield.FindLook(f.look)
	if err != nil {
		return look, nil, err
	}
	for _, name := range f.grades {
		rule, err := yield.FindGradeRule(name)
		if err != nil {
			return look, nil, err
		}
		f.options.Grades = append(f.options.Grades, rule)
	}
	if f.pieces == "" {
		return look, nil, nil
	}
	pieces, err := yield.ReadPieces(f.pieces)
	return look, &pieces, err
}

func (f *yieldFlags) one(ctx context.Context, path string, look yield.Look, pieces *yield.Pieces) (yield.Result, error) {
	chart, err := export.ReadReviewed(path)
	if err != nil {
		return yield.Result{}, err
	}
	r, err := f.evaluate(ctx, chart, look, pieces)
	if err != nil {
		return r, hide.Wrapf(hide.KindOf(err), err, "hide %s", chart.Capture.ID)
	}
	return r, nil
}

func (f *yieldFlags) evaluate(ctx context.Context, chart hide.Chart, look yield.Look, pieces *yield.Pieces) (yield.Result, error) {
	cut, err := yield.Cuttable(chart, look, f.options.Params)
	if err != nil {
		return yield.Result{}, err
	}
	r, layout, err := yield.EvaluateCut(ctx, chart, cut, pieces, f.options)
	if err != nil {
		return r, err
	}
	r.Files, err = f.writeCutPlans(chart, cut, r, pieces, layout)
	return r, err
}

// cutFormatWords lists the formats of cut plans.
func cutFormatWords() string {
	var lines []string
	for _, x := range export.CutFormats() {
		lines = append(lines, fmt.Sprintf("  %-11s %s (%s)", x.Name, x.Words, x.Ending))
	}
	return strings.Join(lines, "\n")
}
