package main

import (
	"os"
	"path/filepath"
	"time"

	"github.com/spf13/cobra"

	"hidechart/export"
	"hidechart/hide"
	"hidechart/pipeline"
	"hidechart/scene"
)

// fileCharts files what a batch charted, or had charted before.
func fileCharts(c *cobra.Command, where string, sum pipeline.Summary) error {
	s, err := openRecord(c.Context(), where, true)
	if err != nil {
		return err
	}
	defer func() { _ = s.Close() }() // each filing is on the disk already
	var paths []string
	for _, r := range sum.Results {
		if r.Err == nil && r.Chart != "" {
			paths = append(paths, r.Chart)
		}
	}
	_, failures, statuses := fileAll(c, s, paths, time.Now())
	return tellFailures(c, failures, statuses)
}

// writeSeason writes the charts of the invented season, a folder for each day.
func writeSeason(c *cobra.Command, out string) error {
	return scene.Season(c.Context(), func(h scene.SeasonHide) error {
		if err := c.Context().Err(); err != nil {
			return err
		}
		dir := filepath.Join(out, h.Day.Format(time.DateOnly), export.SafeName(h.Chart.Capture.ID))
		if err := os.MkdirAll(dir, 0o777); err != nil {
			return hide.Wrapf(hide.Internal, err, "season")
		}
		return export.WriteChart(filepath.Join(dir, export.ChartName), h.Chart)
	})
}
