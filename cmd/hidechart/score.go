package main

import (
	"github.com/spf13/cobra"

	"hidechart/export"
	"hidechart/score"
)

func newScore() *cobra.Command {
	var asJSON bool
	c := &cobra.Command{
		Use:   "score CHART TRUTH",
		Short: "Compare a chart with the truth beside an invented capture",
		Long: `Compares chart.json with truth.json and truth_label.png (TRUTH is their folder
or the truth.json) and prints how far apart they are. The rules of matching are
in docs/score.md.`,
		Args: cobra.ExactArgs(2),
		RunE: func(c *cobra.Command, args []string) error {
			chart, err := export.ReadChart(args[0])
			if err != nil {
				return err
			}
			truth, err := score.ReadTruth(args[1])
			if err != nil {
				return err
			}
			result, err := score.Compare(chart, truth)
			if err != nil {
				return err
			}
			if asJSON {
				return writeJSON(c.OutOrStdout(), result)
			}
			return result.WriteTable(c.OutOrStdout())
		},
	}
	c.Flags().BoolVar(&asJSON, "json", false, "print the figures as JSON")
	return c
}
