package pipeline

import (
	"errors"
	"os"
	"path/filepath"
	"slices"

	"hidechart/export"
	"hidechart/hide"
	"hidechart/pix"
)

// chartDone returns the chart already in the output folder if it was made from
// the same photographs, rig, settings and program, and no output is missing.
func chartDone(in inputs, opts Options) (hide.Chart, bool) {
	dir := filepath.Join(opts.Out, export.SafeName(in.capture.ID))
	c, err := export.ReadChart(filepath.Join(dir, chartName))
	if err != nil { // none, or not whole: make it again
		return c, false
	}
	same := c.MadeBy.Same(hide.MadeBy{Version: opts.Version, OpenCV: pix.OpenCVVersion(), SettingsSHA256: in.settings}) &&
		c.Frame.RigSHA256 == in.rigSum && slices.Equal(c.Capture.Images, in.images)
	if !same {
		return c, false
	}
	for _, name := range outputNames(in.capture.ID) {
		if _, err := os.Stat(filepath.Join(dir, name)); err != nil {
			return c, false
		}
	}
	return c, true
}

// reviewName is the file of a person's decisions about a chart.
const reviewName = "review.jsonl"

// keepReview refuses to put another chart under decisions made about the one
// that is there. Error: Conflict.
func keepReview(opts Options, id string) error {
	path := filepath.Join(opts.Out, export.SafeName(id), reviewName)
	info, err := os.Stat(path)
	if errors.Is(err, os.ErrNotExist) || err == nil && info.Size() == 0 || opts.Again {
		return nil
	}
	if err != nil {
		return diskFault(err, path)
	}
	return hide.Faultf(hide.Conflict, "%s holds a review of an older chart, which a new chart would leave without its ground: choose another output folder, or chart --again to replace the chart", filepath.Dir(path))
}
