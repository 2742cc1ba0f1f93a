package main

import (
	"context"
	"io"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"hidechart/calibrate"
	"hidechart/export"
	"hidechart/hide"
	"hidechart/pipeline"
	"hidechart/scene"
	"hidechart/score"
)

// newCoverage is hidden: it is for developers, called by `make coverage`.
func newCoverage() *cobra.Command {
	var out string
	var first, scenes int64
	c := &cobra.Command{
		Use:    "coverage",
		Short:  "Measure rendered hides of known area and count how often the truth lies within the stated uncertainty",
		Hidden: true,
		Args:   cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if scenes < 1 || scenes > 10000 {
				return usagef("--scenes %d: want 1 to 10000", scenes)
			}
			return coverageRows(cmd.Context(), first, scenes, cmd.ErrOrStderr(), func(rows []coverageRow) error {
				return export.WriteFile(out, func(w io.Writer) error { return writeCoverage(w, rows) })
			})
		},
	}
	c.Flags().StringVar(&out, "out", "docs/coverage.md", "the table to write")
	c.Flags().Int64Var(&first, "first", 1, "first seed")
	c.Flags().Int64Var(&scenes, "scenes", 120, "number of scenes")
	return c
}

// coverageRow is what came of a case; figures in percent of the area.
type coverageRow struct {
	of      coverageCase
	err, u  float64
	camera  float64 // error of the camera found: the true edge seen by the true camera, laid on the table by the one found
	edge    float64 // error of the edge: the edge found, laid on the table by the true camera
	parts   map[string]float64
	refused string
}

func (r coverageRow) z() float64 { return r.err / r.u }

// coverageRows measures scene after scene; each capture is removed after it.
// After each, all so far are saved: a run that is stopped leaves a table of what was run.
func coverageRows(ctx context.Context, first, n int64, log io.Writer, save func([]coverageRow) error) error {
	var rows []coverageRow
	for seed := first; seed < first+n; seed++ {
		dir, err := os.MkdirTemp("", "hidechart-coverage-")
		if err != nil {
			return hide.Wrapf(hide.Internal, err, "coverage")
		}
		row, err := coverageOf(seed).run(ctx, dir)
		_ = os.RemoveAll(dir) // a leftover in the system's temporary folder harms nobody
		if err != nil {
			return err
		}
		rows = append(rows, row)
		if _, err := io.WriteString(log, coverageLine(row)+"\n"); err != nil {
			return hide.Wrapf(hide.Internal, err, "coverage")
		}
		if err := save(rows); err != nil {
			return err
		}
	}
	return nil
}

// run renders the case into dir and measures it.
func (c coverageCase) run(ctx context.Context, dir string) (coverageRow, error) {
	row := coverageRow{of: c, parts: map[string]float64{}}
	if err := scene.Render(ctx, c.spec, dir); err != nil {
		return row, err
	}
	truth, err := score.ReadTruth(filepath.Join(dir, "truth.json"))
	if err != nil {
		return row, err
	}
	var cam cameraTruth
	var place placeTruth
	if err := readJSON(filepath.Join(dir, "camera.json"), &cam); err != nil {
		return row, err
	}
	if err := readJSON(filepath.Join(dir, "truth.json"), &place); err != nil {
		return row, err
	}
	if err := c.misstate(dir, cam, place); err != nil {
		return row, err
	}
	capture, err := pipeline.OpenCapture(dir)
	if err != nil {
		return row, err
	}
	got, err := pipeline.MeasureArea(ctx, capture, filepath.Join(dir, statedName), pipeline.DefaultParams())
	if err != nil {
		row.refused = err.Error()
		return row, nil //nolint:nilerr // a refusal is a result
	}
	row.judge(got, truth, cam.view(place.TableMM[1]), place.SubstanceMM)
	return row, nil
}

// judge compares with the truth; eye is the true camera.
func (r *coverageRow) judge(got pipeline.AreaMeasured, truth score.Truth, eye calibrate.View, thick hide.MM) {
	a := float64(truth.Area)
	r.err, r.u = 100*(float64(got.Area.Value)/a-1), 100*float64(got.Area.U)/a
	for _, p := range got.Area.Budget {
		r.parts[p.Source] = 100 * float64(p.U) / a
	}
	r.camera = 100 * (through(truth.Outline, eye, thick, got.View, got.Height)/float64(truth.Outline.SignedArea()) - 1)
	edge := through(got.Outline.Outer, got.View, got.Height, eye, thick)
	for _, h := range got.Outline.Holes {
		edge += through(h, got.View, got.Height, eye, thick)
	}
	r.edge = 100 * (edge/a - 1)
}

// through is the signed area, mm², of a ring at height zFrom as one camera sees
// it and another lays it on height zTo.
func through(r hide.Ring, from calibrate.View, zFrom hide.MM, to calibrate.View, zTo hide.MM) float64 {
	out := make(hide.Ring, len(r))
	for i, p := range r {
		out[i] = to.Ground(from.Project(p.X, p.Y, zFrom), zTo)
	}
	return float64(out.SignedArea())
}
