package main

import (
	"context"
	"encoding/json"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"hidechart/export"
	"hidechart/hide"
	"hidechart/pipeline"
	"hidechart/scene"
)

// benchResult of one capture.
type benchResult struct {
	Megapixels float64 `json:"megapixels"` // of one photograph
	Photos     int     `json:"photos"`
	ChartS     float64 `json:"chart_s"`    // whole chart, files written
	BaselineS  float64 `json:"baseline_s"` // decode and one remap of the same files, least of three
	Ratio      float64 `json:"ratio"`
	ChartCPU   float64 `json:"chart_cpu_s"` // processor time: hardly moved by what else the machine does
	BaseCPU    float64 `json:"baseline_cpu_s"`
	CPURatio   float64 `json:"cpu_ratio"`
	PeakBytes  int64   `json:"peak_bytes"` // VmHWM after the chart
	Capture    string  `json:"capture"`
}

// benchSizes is the result over image sizes.
type benchSizes struct {
	Runs     []benchResult `json:"runs"`
	Exponent float64       `json:"exponent"` // of time against pixels, least squares on logarithms; 1: linear
}

func newBench() *cobra.Command {
	var sizes []int
	var seed int64
	c := &cobra.Command{
		Use:    "bench CAPTURE | bench --sizes 6,12,24,48",
		Short:  "Measure time and memory of a whole chart",
		Hidden: true,
		Args:   cobra.MaximumNArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			switch {
			case len(args) == 1 && sizes == nil:
				r, err := bench(c.Context(), args[0])
				if err != nil {
					return err
				}
				return writeJSON(c.OutOrStdout(), r)
			case len(args) == 0 && sizes != nil:
				r, err := benchAll(c.Context(), sizes, seed)
				if err != nil {
					return err
				}
				return writeJSON(c.OutOrStdout(), r)
			}
			return usagef("bench: give a capture folder, or --sizes")
		},
	}
	c.Flags().IntSliceVar(&sizes, "sizes", nil, "render and chart captures of so many megapixels a photograph")
	c.Flags().Int64Var(&seed, "seed", 24, "of the rendered captures")
	return c
}

func bench(ctx context.Context, dir string) (benchResult, error) {
	out, err := os.MkdirTemp("", "hidechart-bench-")
	if err != nil {
		return benchResult{}, hide.Wrapf(hide.Internal, err, "bench")
	}
	defer os.RemoveAll(out)
	job, p := pipeline.Job{Dir: dir}, pipeline.DefaultParams()
	watch := pipeline.StartWatch()
	sum, err := pipeline.Run(ctx, []pipeline.Job{job}, pipeline.Options{Out: out, Params: p, Version: version})
	if err != nil {
		return benchResult{}, err
	}
	r := benchResult{BaselineS: math.Inf(1), BaseCPU: math.Inf(1), PeakBytes: peakBytes(), Capture: dir}
	r.ChartS, r.ChartCPU = watch.Read().Seconds()
	if err := sum.Results[0].Err; err != nil {
		return r, err
	}
	c, err := export.ReadChart(sum.Results[0].Chart)
	if err != nil {
		return r, err
	}
	r.Photos = len(c.Capture.Images)
	r.Megapixels = float64(c.Capture.Images[0].WidthPX) * float64(c.Capture.Images[0].HeightPX) / 1e6
	for range 3 {
		cost, err := pipeline.Baseline(ctx, job, p, c.Outline.Outer)
		if err != nil {
			return r, err
		}
		wall, cpu := cost.Seconds()
		r.BaselineS, r.BaseCPU = min(r.BaselineS, wall), min(r.BaseCPU, cpu)
	}
	r.Ratio, r.CPURatio = r.ChartS/r.BaselineS, r.ChartCPU/r.BaseCPU
	return r, nil
}

// peakBytes is the most memory this process ever had resident (proc(5), VmHWM).
func peakBytes() int64 {
	data, err := os.ReadFile("/proc/self/status")
	if err != nil {
		return 0
	}
	for _, line := range strings.Split(string(data), "\n") {
		if f := strings.Fields(line); len(f) >= 2 && f[0] == "VmHWM:" {
			kb, err := strconv.ParseInt(f[1], 10, 64)
			if err == nil {
				return kb << 10
			}
		}
	}
	return 0
}

// benchAll renders a capture of each size and measures it in a process of its
// own, so that each peak is its own.
func benchAll(ctx context.Context, megapixels []int, seed int64) (benchSizes, error) {
	dir, err := os.MkdirTemp("", "hidechart-bench-")
	if err != nil {
		return benchSizes{}, hide.Wrapf(hide.Internal, err, "bench")
	}
	defer os.RemoveAll(dir)
	var all benchSizes
	for _, mp := range megapixels {
		capture := filepath.Join(dir, strconv.Itoa(mp))
		spec := scene.Spec{Seed: seed, WidthPX: int(math.Sqrt(float64(mp)*1e6*1.5)) &^ 1, // 3:2
			Lights: []hide.Light{hide.Top, hide.Back, hide.RakeN, hide.RakeE, hide.Empty}}
		if err := scene.Render(ctx, spec, capture); err != nil {
			return all, err
		}
		r, err := benchApart(ctx, capture)
		if err != nil {
			return all, err
		}
		all.Runs = append(all.Runs, r)
		if err := os.RemoveAll(capture); err != nil {
			return all, hide.Wrapf(hide.Internal, err, "bench")
		}
	}
	all.Exponent = exponent(all.Runs)
	return all, nil
}

func benchApart(ctx context.Context, capture string) (benchResult, error) {
	var r benchResult
	self, err := os.Executable()
	if err != nil {
		return r, hide.Wrapf(hide.Internal, err, "bench")
	}
	cmd := exec.CommandContext(ctx, self, "bench", capture)
	cmd.Stderr = os.Stderr
	out, err := cmd.Output()
	if err != nil {
		return r, hide.Wrapf(hide.Internal, err, "bench %s", capture)
	}
	if err := json.Unmarshal(out, &r); err != nil {
		return r, hide.Wrapf(hide.Internal, err, "bench %s", capture)
	}
	r.Capture = filepath.Base(capture)
	return r, nil
}

// exponent is the slope of log time over log pixels.
func exponent(runs []benchResult) float64 {
	var mx, my, xy, xx float64
	n := float64(len(runs))
	for _, r := range runs {
		mx += math.Log(r.Megapixels) / n
		my += math.Log(r.ChartS) / n
	}
	for _, r := range runs {
		dx := math.Log(r.Megapixels) - mx
		xy += dx * (math.Log(r.ChartS) - my)
		xx += dx * dx
	}
	if xx == 0 {
		return 0
	}
	return xy / xx
}
