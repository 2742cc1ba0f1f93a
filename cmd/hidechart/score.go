package main

import (
	"github.com/spf13/cobra"

	"hidechart/export"
	"hidechart/score"
)

func newScore() *cobra.Command {
	var asJSON bool
	var swatch swatchScore
	c := &cobra.Command{
		Use:   "score CHART TRUTH | score --swatches DIR",
		Short: "Compare a chart with the truth beside an invented capture, or score maps with masks",
		Long: `Compares chart.json with truth.json and truth_label.png (TRUTH is their folder
or the truth.json) and prints how far apart they are. The rules of matching are
in docs/score.md.

With --swatches DIR the close-ups of DIR/images are scored as "hidechart swatch"
does and held against the masks of DIR/masks (<name>.png or <name>_mask.png,
anything but black is a flaw; an image without a mask counts as sound).`,
		Args: func(c *cobra.Command, args []string) error {
			if swatch.dir != "" {
				return cobra.NoArgs(c, args)
			}
			return cobra.ExactArgs(2)(c, args)
		},
		RunE: func(c *cobra.Command, args []string) error {
			if swatch.dir != "" {
				result, err := swatch.judge(c)
				if err != nil {
					return err
				}
				if asJSON {
					return writeJSON(c.OutOrStdout(), result)
				}
				return result.WriteTable(c.OutOrStdout())
			}
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
	swatch.addFlags(c)
	return c
}
