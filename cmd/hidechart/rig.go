package main

import (
	"github.com/spf13/cobra"
)

// newRigCommand gathers what concerns the table, its tags and its camera.
func newRigCommand() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "rig",
		Short: "Tags, lens and acceptance of a table and its camera",
		Args:  cobra.NoArgs,
		RunE:  func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	cmd.AddCommand(newRigSheetCommand())
	return cmd
}
