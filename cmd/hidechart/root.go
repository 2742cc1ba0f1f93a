package main

import (
	"io"
	"log/slog"

	"github.com/spf13/cobra"
)

// newRoot builds the command tree.
func newRoot() *cobra.Command {
	root := &cobra.Command{
		Use:   "hidechart",
		Short: "Measure hides from photographs and chart every flaw on them",
		Long: `hidechart turns photographs of a hide on a lit table into a measured chart: its
area with an uncertainty, its outline, and every hole, scar, scratch and stain
on it, in millimetres. A chart supports an inspector and does not replace one.

Exit status: 0 done, 2 usage, 3 bad input, 4 not measurable (tags, frame, no
hide), 1 anything else. Of several failures 1 goes before 3 before 4.`,
		SilenceUsage:  true,
		SilenceErrors: true,
		Args:          cobra.NoArgs,
		RunE:          func(c *cobra.Command, _ []string) error { return c.Help() },
	}
	var log logFlags
	root.PersistentFlags().StringVar(&log.level, "log-level", "warn", "what to log on standard error: debug, info, warn or error")
	root.PersistentFlags().BoolVar(&log.json, "log-json", false, "log as JSON lines")
	root.PersistentPreRunE = func(c *cobra.Command, _ []string) error { return log.install(c.ErrOrStderr()) }
	root.SetFlagErrorFunc(func(_ *cobra.Command, err error) error { return usageError{err} })
	root.AddCommand(newChart(), newScene(), newScore(), newExport(), newLearn(), newYield(), newPick(), newPacking(), newReview(), newRig(), newVersion(), newBench(), newTrain(), newCoverage(), newAccuracy(), newSwatch(), newRecords())
	return root
}

type logFlags struct {
	level string
	json  bool
}

// install makes the default logger, writing to w.
func (f logFlags) install(w io.Writer) error {
	var level slog.Level
	if err := level.UnmarshalText([]byte(f.level)); err != nil {
		return usagef("--log-level %q: want debug, info, warn or error", f.level)
	}
	options := &slog.HandlerOptions{Level: level}
	var h slog.Handler = slog.NewTextHandler(w, options)
	if f.json {
		h = slog.NewJSONHandler(w, options)
	}
	slog.SetDefault(slog.New(h))
	return nil
}
