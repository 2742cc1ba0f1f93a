package main

import (
	"encoding/json"
	"log/slog"

	"github.com/spf13/cobra"

	"hidechart/hide"
	"hidechart/pipeline"
)

func newChart() *cobra.Command {
	var config string
	c := &cobra.Command{
		Use:   "chart CAPTURE… --rig rig.yaml --out DIR",
		Short: "Chart hides from their capture folders: the main job",
		Long: `Measures each capture folder (top.jpg, and back, rake-n, rake-e, rake-s, rake-w
and empty if there are any) and writes DIR/<id>/ with chart.json and the files
made from it. Captures already charted from the same photographs, rig, settings
and program are left as they are, so a run that was stopped is taken up by
running it again.

Settings may also be given in a file (--settings) or as environment variables
HIDECHART_<KEY>; a flag goes before the environment, that before the file.
Every setting of the stages is a key, such as outline.edge_band
(HIDECHART_OUTLINE_EDGE_BAND).`,
		Example: "  hidechart chart hides/* --rig rig.yaml --out charts",
		Args:    cobra.MinimumNArgs(1),
		RunE: func(c *cobra.Command, dirs []string) error {
			s, err := readSettings(c.Flags(), config)
			if err != nil {
				return err
			}
			return chart(c, dirs, s)
		},
	}
	d := pipeline.DefaultParams()
	f := c.Flags()
	f.String("out", "", "folder for the results, made if missing (needed)")
	f.String("record", "", "file the charts in this record: a file or a PostgreSQL URL (see hidechart records)")
	f.String("profiles", "", "folder of profiles learned from reviews (see hidechart learn): that of a hide's article refits the probabilities")
	f.String("rig", "", "rig file; without it each capture's own rig.yaml")
	f.Bool("again", false, "chart captures again that are done, even where a review lies beside the chart")
	f.Bool("json", false, "print the results as JSON on standard output instead of the table")
	f.Int("at-once", 0, "captures measured at the same time, memory allowing; 0: two")
	f.Float64("mm-per-px", float64(d.MMPerPX), "raster the hide is measured on, mm; 0: chosen from the photograph, 0.5 at the finest")
	f.Float64("substance", float64(d.Substance), "thickness assumed where capture.yaml states none, mm")
	f.Int64("max-pixels", d.MaxPixels, "refuse photographs of more pixels")
	f.StringVar(&config, "settings", "", "settings file (YAML, JSON or TOML)")
	return c
}

// chart runs the batch and tells how it went.
func chart(c *cobra.Command, dirs []string, s chartSettings) error {
	if s.Out == "" {
		return usagef("say where the charts go: --out DIR")
	}
	if err := s.Params.Validate(); err != nil {
		return usageError{err}
	}
	if s.AtOnce < 0 {
		return usagef("--at-once %d: want 0 or more", s.AtOnce)
	}
	var err error
	if s.Params.Profiles, err = readProfiles(s.Profiles); err != nil {
		return err
	}
	jobs := make([]pipeline.Job, len(dirs))
	for i, d := range dirs {
		jobs[i] = pipeline.Job{Dir: d, Rig: s.Rig}
	}
	bar := newProgress(c.ErrOrStderr())
	sum, err := pipeline.Run(c.Context(), jobs, pipeline.Options{Out: s.Out, Params: s.Params, Version: version,
		Again: s.Again, AtOnce: s.AtOnce, Progress: bar, Log: slog.Default()})
	bar.Wait()
	if err != nil {
		return err
	}
	if s.JSON {
		err = writeJSON(c.OutOrStdout(), jsonResults(sum))
	} else {
		err = writeChartTable(c.OutOrStdout(), sum)
	}
	if err != nil {
		return err
	}
	if s.Record != "" {
		if err := fileCharts(c, s.Record, sum); err != nil {
			return err
		}
	}
	return writeFailures(c.ErrOrStderr(), sum)
}

// jsonResult is a result as `chart --json` prints it.
type jsonResult struct {
	Capture string           `json:"capture"`
	State   pipeline.State   `json:"state"`
	Chart   string           `json:"chart,omitempty"`
	Result  *pipeline.Digest `json:"result,omitempty"`
	Kind    string           `json:"error_kind,omitempty"`
	Error   string           `json:"error,omitempty"`
}

func jsonResults(sum pipeline.Summary) []jsonResult {
	out := []jsonResult{}
	for _, r := range sum.Results {
		j := jsonResult{Capture: r.Job.Dir, State: r.State, Chart: r.Chart}
		if r.Err == nil {
			j.Result = &r.Digest
		} else {
			j.Error, j.Kind = oneLine(r.Err), string(hide.KindOf(r.Err))
		}
		out = append(out, j)
	}
	return out
}

func writeJSON(w interface{ Write([]byte) (int, error) }, v any) error {
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	e.SetEscapeHTML(false)
	if err := e.Encode(v); err != nil {
		return hide.Wrapf(hide.Internal, err, "print the result")
	}
	return nil
}
