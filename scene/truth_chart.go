package scene

import (
	"fmt"
	"math"

	"hidechart/hide"
	"hidechart/plane"
)

// Figures of a chart made from truth.
const (
	truthU       = 0.0035 // standard uncertainty over the area: what the measurement of a rendered capture comes to
	truthRaster  = 0.5    // mm per pixel that the chart says it was measured on
	truthGap     = 0.5    // mm by which a flaw's edge may be simplified: one pixel of that raster
	truthOutline = 1.0    // mm, likewise for the hide's edge
)

// TruthChart is the chart that a faultless measurement of the scene would give, made
// without rendering a photograph: outline, hide frame and zones are exact, a
// line mark is a band as wide as half the reach of its renderer, and every flaw is a
// candidate whose probability is drawn, since a real chart never knows. It is for
// demonstrations and tests of what follows a chart; it says nothing about how well
// hidechart measures.
//
// Errors: Invalid for a Spec that breaks a rule; those of the geometry.
func TruthChart(spec Spec) (hide.Chart, error) { return truthChart(spec, nil) }

// truthChart takes marks to add, in the hide frame.
func truthChart(spec Spec, extra []seasonMark) (hide.Chart, error) {
	if err := spec.Validate(); err != nil {
		return hide.Chart{}, err
	}
	w := newWorld(spec.filled())
	m := &maker{source: stream(spec.Seed, "defects"), lay: w.lay, leather: w.leather, inside: newDepths(w.outline, w.table), contrast: 1}
	w.defects = m.drawDefects(w.spec.Defects, w.spec.Crossed)
	c := hide.Chart{Format: hide.Format, Side: w.lay.side, Backbone: [2]hide.Point{w.neck, w.tail},
		Frame:   hide.Frame{Unit: "mm", Y: "up", MMPerPX: truthRaster},
		Capture: hide.CaptureFacts{ID: spec.ID, Supplier: spec.Supplier, Lot: spec.Lot, Article: w.leather.name},
		MadeBy:  hide.MadeBy{Version: "from truth"}}
	outline, err := plane.Simplify(hide.Shape{{Outer: w.outline}}, truthOutline)
	if err != nil || len(outline) == 0 {
		return c, fmt.Errorf("scene: outline of seed %d: %w", spec.Seed, err)
	}
	frame, err := plane.FrameFrom(c.Backbone, c.Side, outline[0])
	if err != nil {
		return c, err
	}
	w.outline = outline[0].Outer // a twentieth of the vertices: all that follows is the quicker for it
	if err := w.truthDefects(&c, frame, m, extra); err != nil {
		return c, err
	}
	if c.Outline, err = pierced(outline[0], c.Defects); err != nil {
		return c, err
	}
	if frame, err = plane.FrameFrom(c.Backbone, c.Side, c.Outline); err != nil {
		return c, err
	}
	c.Zones = frame.Zones()
	c.Area.Value = c.Outline.Area()
	c.Area.U = c.Area.Value * truthU
	return c, nil
}

// pierced takes the holes out of the outline.
func pierced(outline hide.Polygon, defects []hide.Defect) (hide.Polygon, error) {
	out := hide.Shape{outline}
	for _, d := range defects {
		if d.Kind != hide.Hole {
			continue
		}
		var err error
		if out, err = plane.Difference(out, d.Geometry); err != nil {
			return outline, err
		}
	}
	best := out[0]
	for _, p := range out {
		if p.Area() > best.Area() {
			best = p
		}
	}
	return best, nil
}

// truthDefects fills the chart's flaws.
func (w *world) truthDefects(c *hide.Chart, frame plane.HideFrame, m *maker, extra []seasonMark) error {
	edge := plane.NewEdgeIndex(w.outline)
	put := func(kind hide.Kind, open bool, s hide.Shape, probability float64) error {
		s, err := plane.Clip(s, hide.Polygon{Outer: w.outline})
		if err != nil || len(s) == 0 {
			return err
		}
		box := plane.MinRectangle(s)
		d := hide.Defect{ID: len(c.Defects) + 1, Kind: kind, Status: hide.Candidate, Probability: math.Round(100*probability) / 100,
			Open: open, Geometry: s, Area: s.Area(), Length: box.Length, Width: box.Width, Zone: frame.ZoneAt(box.Centre), EdgeDistance: edge.DistanceToShape(s), Lights: []hide.Light{hide.Top}}
		if kind == hide.Bites {
			d.Count = len(s)
		}
		c.Defects = append(c.Defects, d)
		return nil
	}
	for _, d := range w.defects {
		s, err := d.outlined()
		if err == nil {
			err = put(d.kind, d.open, s, clamp(m.in(.35, 1.15), 0, .99)) // most are likely, some are missed at 0.5
		}
		if err != nil {
			return err
		}
	}
	for _, e := range extra {
		s, err := e.outlined(frame)
		if err == nil {
			err = put(e.kind, false, s, m.in(.7, .99)) // fresh and plain to see
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// outlined is a flaw as polygons.
func (d defect) outlined() (hide.Shape, error) {
	if len(d.holes) > 0 {
		var s hide.Shape
		for _, r := range d.holes {
			s = append(s, hide.Polygon{Outer: r})
		}
		return plane.MakeValid(s)
	}
	var parts []hide.Shape
	for _, p := range d.parts {
		if p.marked == nil {
			continue
		}
		switch s := p.shape.(type) {
		case blob:
			parts = append(parts, hide.Shape{{Outer: s.ring()}})
		case line:
			band, err := plane.RibbonFrom(s.points, hide.MM(s.reach))
			if err != nil {
				return nil, err
			}
			parts = append(parts, band)
		}
	}
	all, err := plane.Union(parts...)
	if err != nil {
		return nil, err
	}
	return plane.Simplify(all, truthGap)
}
