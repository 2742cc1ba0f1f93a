package export

import (
	"fmt"
	"io"

	"hidechart/hide"
)

// WriteCutGeoJSON writes a cut plan as a feature collection (RFC 7946): outline,
// cuttable region, qualities and pieces with their properties, planar millimetres
// of the table frame as the foreign member planar_frame says. Error: Invalid for a
// plan without an outline.
func WriteCutGeoJSON(w io.Writer, p CutPlan) error {
	if err := p.check(); err != nil {
		return err
	}
	b := p.box()
	out := featureCollection{Type: "FeatureCollection", BBox: [4]float64{hide.Micron(hide.MM(b.minX)), hide.Micron(hide.MM(b.minY)),
		hide.Micron(hide.MM(b.maxX)), hide.Micron(hide.MM(b.maxY))},
		Planar: planarFrame{Unit: "mm", Y: "up", Origin: "near left corner of the table",
			Note: "planar millimetres in the table frame, not longitude and latitude"}}
	out.Features = append(out.Features,
		feature("outline", p.Outline.Oriented(), map[string]any{"part": "outline", "hide": p.Hide, "area_mm2": rounded(p.Outline.Area()), "caution": knifeCaution()}),
		feature("cuttable", orientedShape(p.Cuttable), map[string]any{"part": "cuttable", "look": p.Look, "area_mm2": rounded(p.Cuttable.Area()), "notes": p.Notes}))
	for _, q := range p.Quality {
		out.Features = append(out.Features, feature("quality-"+layerID(q.Name), orientedShape(q.Shape), map[string]any{
			"part": "quality", "quality": q.Name, "words": q.Words, "area_mm2": rounded(q.Shape.Area())}))
	}
	for i, q := range p.Pieces {
		out.Features = append(out.Features, feature(fmt.Sprintf("piece-%d", i+1), q.Shape.Oriented(), map[string]any{
			"part": "piece", "piece": q.Name, "number": i + 1, "turn_deg": q.Turn, "mirror": q.Mirror, "area_mm2": rounded(q.Shape.Area())}))
	}
	data, err := encodeJSON(out)
	if err != nil {
		return hide.Wrapf(hide.Invalid, err, "cut plan, geojson")
	}
	if _, err := w.Write(data); err != nil {
		return hide.Wrapf(hide.Internal, err, "cut plan, geojson")
	}
	return nil
}

func orientedShape(s hide.Shape) hide.Shape {
	out := make(hide.Shape, len(s))
	for i, p := range s {
		out[i] = p.Oriented()
	}
	return out
}
