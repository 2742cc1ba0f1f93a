package main

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"hidechart/detect"
	"hidechart/export"
	"hidechart/hide"
)

func newExport() *cobra.Command {
	var to []string
	var out string
	var explain []int
	var words []string
	for _, f := range append(export.Formats(), export.OnRequest()...) {
		words = append(words, fmt.Sprintf("  %-13s %s (%s)", f.Name, f.Words, f.Ending))
	}
	words = append(words, fmt.Sprintf("  %-13s folder to share: opens in a browser from the disk, read only (.page)", export.PageName))
	c := &cobra.Command{
		Use:     "export CHART --to FORMAT,… | --explain ID",
		Short:   "Write a chart in other formats",
		Long:    "Writes files from a chart.json (or its folder), with its review if there is one:\n" + strings.Join(words, "\n") + "\nThe picture is drawn on the photograph if that lies beside the chart.",
		Example: "  hidechart export charts/MH-0417-01 --to dxf,svg,page",
		Args:    cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			if len(to) == 0 && len(explain) == 0 {
				return usagef("say what to write: --to FORMAT, or --explain ID")
			}
			if err := explainDefects(c.OutOrStdout(), args[0], explain); err != nil || len(to) == 0 {
				return err
			}
			return exportChart(c.OutOrStdout(), args[0], out, to)
		},
	}
	c.Flags().StringSliceVar(&to, "to", nil, "formats, separated by commas")
	c.Flags().StringVar(&out, "out", "", "folder to write to; default: that of the chart")
	c.Flags().IntSliceVar(&explain, "explain", nil, "print why the candidates of these ids have their kind and probability")
	return c
}

// exportChart writes a chart's formats and prints their paths.
func exportChart(stdout io.Writer, path, out string, to []string) error {
	page := slices.Contains(to, export.PageName)
	formats, err := export.FindFormats(slices.DeleteFunc(slices.Clone(to), func(n string) bool { return n == export.PageName }))
	if err != nil {
		return usageError{err}
	}
	chart, err := export.ReadReviewed(path)
	if err != nil {
		return err
	}
	from, file := path, filepath.Join(path, export.ChartName)
	if info, err := os.Stat(path); err == nil && !info.IsDir() {
		from, file = filepath.Dir(path), path
	}
	if out == "" {
		out = from
	}
	photo, err := export.OpenPhoto(from)
	if err != nil {
		return err
	}
	defer photo.Image.Close()
	for _, f := range formats {
		path := filepath.Join(out, f.FileName(chart.Capture.ID))
		if err := export.WriteFile(path, func(w io.Writer) error { return f.Write(w, chart, photo) }); err != nil {
			return err
		}
		if _, err := fmt.Fprintln(stdout, path); err != nil {
			return hide.Wrapf(hide.Internal, err, "print the path")
		}
	}
	if !page {
		return nil
	}
	return sharePage(stdout, chart, file, from, out)
}

func sharePage(stdout io.Writer, chart hide.Chart, file, from, out string) error {
	_, sum, err := export.ReadChartSum(file)
	if err != nil {
		return err
	}
	dir := filepath.Join(out, export.SafeName(chart.Capture.ID)+".page")
	if err := export.WritePage(dir, chart, from, sum); err != nil {
		return err
	}
	if _, err := fmt.Fprintln(stdout, filepath.Join(dir, "index.html")); err != nil {
		return hide.Wrapf(hide.Internal, err, "print the path")
	}
	return nil
}

// explainDefects prints why candidates were sorted as they were.
func explainDefects(stdout io.Writer, path string, ids []int) error {
	if len(ids) == 0 {
		return nil
	}
	chart, err := export.ReadReviewed(path)
	if err != nil {
		return err
	}
	for _, id := range ids {
		k := slices.IndexFunc(chart.Defects, func(d hide.Defect) bool { return d.ID == id })
		if k < 0 {
			return hide.Faultf(hide.NotFound, "chart %s has no defect %d", chart.Capture.ID, id)
		}
		lines, err := detect.Explain(chart.Defects[k])
		if err != nil {
			return err
		}
		if _, err := fmt.Fprintln(stdout, strings.Join(lines, "\n")); err != nil {
			return hide.Wrapf(hide.Internal, err, "print")
		}
	}
	return nil
}
