package main

import (
	"context"
	"io"
	"os"
	"path/filepath"
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
}

func newYield() *cobra.Command {
	f := &yieldFlags{options: yield.DefaultOptions()}
	c := &cobra.Command{
		Use:   "yield CHART… --look NAME [--pieces FILE] [--grade NAME,…]",
		Short: "Say what can be cut from a hide for a look and for pieces",
		Long: `Computes, for each chart (a chart.json or its folder), the cuttable area under a
look as a range, the candidates whose review moves it most, grades by published
rules, and for a drawing of pattern pieces (.svg, .dxf; notes in a .yaml of the
same name) where each piece can go and a layout. Described in docs/yield.md.

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
	if err != nil || failures == nil {
		return err
	}
	lines := "failed:\n"
	for _, x := range failures {
		lines += "  " + x.Chart + ": " + x.Error + "\n"
	}
	if _, err := io.WriteString(c.ErrOrStderr(), lines); err != nil {
		return hide.Wrapf(hide.Internal, err, "print the failures")
	}
	return toldError{worst(statuses)}
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
	if info, err := os.Stat(path); err == nil && info.IsDir() {
		path = filepath.Join(path, "chart.json")
	}
	chart, err := export.ReadChart(path)
	if err != nil {
		return yield.Result{}, err
	}
	r, _, err := yield.Evaluate(ctx, chart, look, pieces, f.options)
	if err != nil {
		return r, hide.Wrapf(hide.KindOf(err), err, "hide %s", chart.Capture.ID)
	}
	return r, nil
}
