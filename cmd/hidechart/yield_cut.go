package main

import (
	"fmt"
	"io"
	"math"
	"path/filepath"

	"hidechart/export"
	"hidechart/hide"
	"hidechart/yield"
)

// writeCutPlans writes a chart's cut plan in the formats asked for and returns the
// paths.
func (f *yieldFlags) writeCutPlans(chart hide.Chart, cut yield.Cut, r yield.Result, pieces *yield.Pieces, l *yield.Layout) ([]string, error) {
	formats, err := export.FindCutFormats(f.to)
	if err != nil || len(formats) == 0 {
		return nil, err
	}
	plan, err := f.cutPlan(chart, cut, r, pieces, l)
	if err != nil {
		return nil, err
	}
	var out []string
	for _, x := range formats {
		path := filepath.Join(f.out, export.SafeName(chart.Capture.ID)+"."+export.SafeName(cut.Look)+x.Ending)
		if err := export.WriteFile(path, func(w io.Writer) error { return x.Write(w, plan, f.cut) }); err != nil {
			return out, err
		}
		out = append(out, path)
	}
	return out, nil
}

// cutPlan turns a result into what is drawn.
func (f *yieldFlags) cutPlan(chart hide.Chart, cut yield.Cut, r yield.Result, pieces *yield.Pieces, l *yield.Layout) (export.CutPlan, error) {
	plan := export.CutPlan{Hide: chart.Capture.ID, Look: cut.Look, Outline: chart.Outline, Backbone: chart.Backbone, Cuttable: cut.Region}
	var looks []yield.Look
	for _, name := range f.quality {
		look, err := yield.FindLook(name)
		if err != nil {
			return plan, err
		}
		looks = append(looks, look)
	}
	zones, err := yield.Qualities(chart, looks, f.options.Params)
	if err != nil {
		return plan, err
	}
	for _, z := range zones {
		plan.Quality = append(plan.Quality, export.QualityArea{Name: z.Name, Words: z.Words, Shape: z.Shape})
	}
	plan.Notes = cutNotes(r)
	if l == nil {
		return plan, nil
	}
	for _, p := range l.Placed {
		piece := pieces.List[p.Piece]
		x := export.CutPiece{Name: piece.Name, Turn: p.Turn, Mirror: p.Mirror, Shape: p.Shape}
		if piece.Grain != nil || piece.Stretch != nil {
			x.Grain = grainOf(p.Shape, chart.Backbone, p.Turn)
		}
		plan.Pieces = append(plan.Pieces, x)
	}
	return plan, nil
}

// grainOf draws the grain line of a placed piece through the middle of its box:
// along the backbone, turned as the piece was.
func grainOf(s hide.Polygon, backbone [2]hide.Point, turn float64) *[2]hide.Point {
	low, high := s.Outer[0], s.Outer[0]
	for _, q := range s.Outer {
		low = hide.Point{X: min(low.X, q.X), Y: min(low.Y, q.Y)}
		high = hide.Point{X: max(high.X, q.X), Y: max(high.Y, q.Y)}
	}
	angle := math.Atan2(float64(backbone[1].Y-backbone[0].Y), float64(backbone[1].X-backbone[0].X)) + turn*math.Pi/180
	sin, cos := math.Sincos(angle)
	half := 0.3 * min(float64(high.X-low.X), float64(high.Y-low.Y)) // inside most pieces
	x, y := float64(low.X+high.X)/2, float64(low.Y+high.Y)/2
	return &[2]hide.Point{{X: hide.MM(x - half*cos), Y: hide.MM(y - half*sin)}, {X: hide.MM(x + half*cos), Y: hide.MM(y + half*sin)}}
}

// cutNotes are the figures beside the drawing.
func cutNotes(r yield.Result) []string {
	s := r.CuttableShare
	out := []string{fmt.Sprintf("cuttable %.1f dm², %.1f %% (10–90 %%: %.1f–%.1f %%), %s", r.CuttableMM2.Median/1e4, 100*s.Median, 100*s.P10, 100*s.P90, r.Band)}
	if r.Sets != nil {
		out = append(out, fmt.Sprintf("%d whole sets (10–90 %%: %.0f–%.0f), %.1f %% of the cuttable leather in pieces", *r.Sets, r.SetsRange.P10, r.SetsRange.P90, 100**r.Used))
	}
	if len(r.LookFirst) > 0 {
		text := "look first at candidates"
		for i, w := range r.LookFirst {
			if i > 0 {
				text += ","
			}
			text += fmt.Sprintf(" %d", w.ID)
		}
		out = append(out, text)
	}
	if len(r.Refused) > 0 {
		out = append(out, fmt.Sprintf("the look refuses this hide: flaws %v", r.Refused))
	}
	return append(append(out, r.Unmet...), r.Warnings...)
}
