package main

import (
	"io"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"hidechart/calibrate"
	"hidechart/export"
	"hidechart/hide"
)

type rigSheetFlags struct {
	ids    string
	edgeMM float64
	paper  string
	strip  bool
	out    string
}

func newRigSheet() *cobra.Command {
	var f rigSheetFlags
	cmd := &cobra.Command{
		Use:   "sheet --ids 0-15 --out tags.pdf",
		Short: "Print the tags of a table",
		Long: "Writes a PDF of tags (" + calibrate.TagFamily + ") to print at 100 %, with cut marks, a bar to check the print,\n" +
			"and where to glue them.",
		Example: "  hidechart rig sheet --ids 0-15 --edge-mm 100 --paper A4 --out tags.pdf\n" +
			"  hidechart rig sheet --ids 0-8 --strip --paper A3 --out strips.pdf",
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error { return runRigSheet(f) },
	}
	cmd.Flags().StringVar(&f.ids, "ids", "0-15", "tag ids, single or as spans: 0-3,7")
	cmd.Flags().Float64Var(&f.edgeMM, "edge-mm", 100, "outer edge of the black square, mm")
	cmd.Flags().StringVar(&f.paper, "paper", "A4", "A4 or A3")
	cmd.Flags().BoolVar(&f.strip, "strip", false, "a strip of several tags on each page, at a fixed distance, instead of one tag a page")
	cmd.Flags().StringVar(&f.out, "out", "tags.pdf", "the PDF to write")
	return cmd
}

func runRigSheet(f rigSheetFlags) error {
	ids, err := parseIDs(f.ids)
	if err != nil {
		return err
	}
	sheet := export.TagSheet{Family: calibrate.TagFamily, Edge: hide.MM(f.edgeMM), Quiet: calibrate.QuietCells,
		Paper: strings.ToUpper(f.paper), Strip: f.strip}
	for _, id := range ids {
		cells, err := calibrate.TagPattern(id)
		if err != nil {
			return err
		}
		sheet.Tags = append(sheet.Tags, export.TagCells{ID: id, Cells: cells})
	}
	return export.WriteFile(f.out, func(w io.Writer) error { return export.WriteTagSheet(w, sheet) })
}

// parseIDs reads "0-3,7" as 0, 1, 2, 3, 7.
func parseIDs(text string) ([]int, error) {
	var ids []int
	for _, part := range strings.Split(text, ",") {
		from, to, isSpan := strings.Cut(strings.TrimSpace(part), "-")
		if !isSpan {
			to = from
		}
		a, errA := strconv.Atoi(strings.TrimSpace(from))
		b, errB := strconv.Atoi(strings.TrimSpace(to))
		if errA != nil || errB != nil || a < 0 || b < a {
			return nil, hide.Faultf(hide.Invalid, "--ids %q: %q is neither an id nor a span such as 0-3", text, part)
		}
		if b-a >= calibrate.TagCount() {
			return nil, hide.Faultf(hide.Invalid, "--ids %q: %s has ids 0 to %d", text, calibrate.TagFamily, calibrate.TagCount()-1)
		}
		for id := a; id <= b; id++ {
			ids = append(ids, id)
		}
	}
	return ids, nil
}

// sayf prints a line for people on standard error; results go to files.
func sayf(cmd *cobra.Command, format string, args ...any) {
	cmd.PrintErrf(format+"\n", args...)
}
