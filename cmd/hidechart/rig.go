package main

import (
	"github.com/spf13/cobra"
)

// newRig gathers what concerns the table, its tags and its camera.
func newRig() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "rig",
		Short: "Tags, lens and acceptance of a table and its camera",
		Args:  cobra.NoArgs,
		RunE:  func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	cmd.AddCommand(newRigSheet(), newRigLens(), newRigProve(), newRigSurvey(), newRigLog())
	return cmd
}
