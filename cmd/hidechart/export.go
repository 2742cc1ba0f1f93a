package main

import (
	"fmt"
	"io"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"hidechart/export"
	"hidechart/hide"
)

func newExport() *cobra.Command {
	var to []string
	var out string
	var words []string
	for _, f := range export.Formats() {
		words = append(words, fmt.Sprintf("  %-8s %s (%s)", f.Name, f.Words, f.Ending))
	}
	c := &cobra.Command{
		Use:     "export CHART --to FORMAT,…",
		Short:   "Write a chart in other formats",
		Long:    "Writes files from a chart.json:\n" + strings.Join(words, "\n") + "\nThe picture is drawn on plain ground: the photograph is not in the chart.",
		Example: "  hidechart export charts/MH-0417-01/chart.json --to dxf,svg",
		Args:    cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			formats, err := export.FindFormats(to)
			if err != nil {
				return usageError{err}
			}
			chart, err := export.ReadReviewed(args[0])
			if err != nil {
				return err
			}
			if out == "" {
				out = filepath.Dir(args[0])
			}
			for _, f := range formats {
				path := filepath.Join(out, f.FileName(chart.Capture.ID))
				if err := export.WriteFile(path, func(w io.Writer) error { return f.Write(w, chart, export.Photo{}) }); err != nil {
					return err
				}
				if _, err := fmt.Fprintln(c.OutOrStdout(), path); err != nil {
					return hide.Wrapf(hide.Internal, err, "print the path")
				}
			}
			return nil
		},
	}
	c.Flags().StringSliceVar(&to, "to", nil, "formats, separated by commas")
	c.Flags().StringVar(&out, "out", "", "folder to write to; default: that of the chart")
	if err := c.MarkFlagRequired("to"); err != nil {
		panic(err) // the flag is defined above
	}
	return c
}
