package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"hidechart/pix"
)

// version of the program: into every chart, and a chart of another version is
// made again. Raised with every change that can change a chart.
const version = "0.1.0"

func newVersion() *cobra.Command {
	return &cobra.Command{
		Use:   "version",
		Short: "Print the version of the program and of OpenCV",
		Args:  cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			_, err := fmt.Fprintf(c.OutOrStdout(), "hidechart %s (OpenCV %s)\n", version, pix.OpenCVVersion())
			return err
		},
	}
}
