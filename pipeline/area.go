package pipeline

import (
	"context"

	"hidechart/calibrate"
	"hidechart/hide"
)

// MeasureArea measures a capture's outline and area alone: the same stages with
// the same settings as a chart, short of the search for flaws. rig is the rig
// file; empty: rig.yaml in the folder. Errors: of the stages; the chart's flags
// come with the result.
func MeasureArea(ctx context.Context, c Capture, rig string, p Params) (AreaMeasured, error) {
	if err := p.Validate(); err != nil {
		return AreaMeasured{}, err
	}
	in, err := readInputs(c, rig, p)
	if err != nil {
		return AreaMeasured{}, err
	}
	m, err := trace(ctx, in, p)
	if err != nil {
		return AreaMeasured{}, err
	}
	m.ownFlags()
	edge, _ := m.edgeU()
	return AreaMeasured{Area: budget(m), Outline: m.outline.Polygon, Flags: tidyFlags(m.flags), Tags: m.fit.Inliers,
		View: m.view, Height: m.height, PixelMM: m.pixelMM, EdgeU: hide.MM(edge)}, nil
}

// AreaMeasured is a hide's outline and area without its flaws.
type AreaMeasured struct {
	Area    hide.Area
	Outline hide.Polygon
	Flags   []hide.Flag
	Tags    int            // that carry the fit
	View    calibrate.View // the camera found
	Height  hide.MM        // of the grain side above the tag plane, as taken
	PixelMM hide.MM        // size of a photograph's pixel on the table
	EdgeU   hide.MM        // standard uncertainty of the edge's place
}

// trace runs the stages up to the outline.
func trace(ctx context.Context, in inputs, p Params) (measured, error) {
	r, m, err := begin(in, p, false)
	if err != nil {
		return m, err
	}
	defer r.Close()
	defer func() { m.flat.Close() }()
	quiet := func(string) {}
	found, fine, err := m.rectified(ctx, r, quiet)
	if err != nil {
		return m, err
	}
	defer fine.Close()
	if err := m.edge(ctx, found, fine); err != nil {
		return m, err
	}
	m.addFlags(m.doubts(fine)...)
	return m, nil
}
