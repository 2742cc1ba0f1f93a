package pipeline

import (
	"math"

	"hidechart/detect"
	"hidechart/hide"
	"hidechart/plane"
)

// sortDefects lists the holes that the outline has and what else is on the
// leather, and says where on the hide each lies. Ids run from 1.
func (m *measured) sortDefects() error {
	m.defects = holeDefects(m.outline)
	sorted, err := detect.Sort(m.candidates, m.outline.Polygon.Area(), detect.ProfileFor(m.in.capture.Note.Article, m.params.Profiles), m.params.Detect)
	if err != nil {
		return err
	}
	m.defects = append(m.defects, sorted...)
	edge := plane.NewEdgeIndex(m.outline.Polygon.Outer)
	for i := range m.defects {
		d := &m.defects[i]
		d.ID = i + 1
		d.Zone = m.frame.ZoneAt(middle(d.Geometry))
		d.EdgeDistance = edge.DistanceToShape(d.Geometry)
	}
	return nil
}

// holeDefects makes a candidate of every inner ring of the outline.
func holeDefects(o detect.Outline) []hide.Defect {
	var out []hide.Defect
	for i, h := range o.Holes {
		s := hide.Shape{hide.Polygon{Outer: o.Polygon.Holes[i]}.Oriented()}
		box := plane.MinRectangle(s)
		out = append(out, hide.Defect{Kind: hide.Hole, Status: hide.Candidate, Probability: h.Probability, Open: true,
			Geometry: s, Area: s.Area(), Length: box.Length, Width: box.Width, Lights: h.Lights})
	}
	return out
}

// middle is the centre of the shape's largest part.
func middle(s hide.Shape) hide.Point {
	var c hide.Point
	var most hide.MM2
	for _, p := range s {
		if a := p.Area(); a > most {
			most, c = a, ringCentre(p.Outer)
		}
	}
	return c
}

// ringCentre is the centre of area (shoelace formula, taken from the first
// vertex); of a ring without area, its first vertex.
func ringCentre(r hide.Ring) hide.Point {
	var a, x, y float64
	o := r[0]
	for i, p := range r {
		q := r[(i+1)%len(r)]
		px, py, qx, qy := float64(p.X-o.X), float64(p.Y-o.Y), float64(q.X-o.X), float64(q.Y-o.Y)
		c := px*qy - qx*py
		a, x, y = a+c, x+c*(px+qx), y+c*(py+qy)
	}
	if math.Abs(a) < 1e-9 {
		return o
	}
	return hide.Point{X: o.X + hide.MM(x/(3*a)), Y: o.Y + hide.MM(y/(3*a))}
}
