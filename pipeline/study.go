package pipeline

import (
	"context"

	"hidechart/detect"
	"hidechart/hide"
)

// Study is a capture charted for learning: what stood out of the leather, flaw
// or not, with the outline it lies in.
type Study struct {
	Outline    hide.Polygon
	Candidates []detect.Candidate
}

// StudyCapture runs the stages over one capture and writes nothing. Errors: as
// of a chart.
func StudyCapture(ctx context.Context, job Job, p Params) (Study, error) {
	c, err := OpenCapture(job.Dir)
	if err != nil {
		return Study{}, err
	}
	in, err := readInputs(c, job.Rig, p)
	if err != nil {
		return Study{}, err
	}
	m, err := measure(ctx, in, p, false, func(string) {})
	if err != nil {
		return Study{}, err
	}
	m.Close()
	return Study{Outline: m.outline.Polygon, Candidates: m.candidates}, nil
}
