package export

import (
	"io"

	"hidechart/hide"
)

// featureCollection is RFC 7946, section 3.3, with one foreign member.
type featureCollection struct {
	Type     string       `json:"type"`
	Planar   planarFrame  `json:"planar_frame"`
	BBox     [4]float64   `json:"bbox"`
	Features []geoFeature `json:"features"`
}

// planarFrame is the foreign member (RFC 7946, section 6.1) that says what the
// coordinates are: the standard itself knows longitude and latitude only.
type planarFrame struct {
	Unit   string `json:"unit"`
	Y      string `json:"y"`
	Origin string `json:"origin"`
	Note   string `json:"note"`
}

type geoFeature struct {
	Type       string         `json:"type"`
	ID         string         `json:"id"`
	Properties map[string]any `json:"properties"` // encoded in the order of the keys
	Geometry   any            `json:"geometry"`
}

type lineGeometry struct {
	Type        string        `json:"type"`
	Coordinates [2]hide.Point `json:"coordinates"`
}

// WriteGeoJSON writes the chart as a feature collection (RFC 7946): outline,
// zones, backbone and every defect, rejected ones included, with their
// properties. Coordinates are planar millimetres of the table frame, which the
// foreign member planar_frame says; outer rings run counter-clockwise.
func WriteGeoJSON(w io.Writer, c hide.Chart) error {
	c = settled(c)
	b := chartBox(c)
	for _, d := range c.Defects {
		if e := shapeBox(d.Geometry); len(d.Geometry) > 0 {
			b = b.with(e.minX, e.minY).with(e.maxX, e.maxY)
		}
	}
	out := featureCollection{Type: "FeatureCollection", BBox: [4]float64{hide.Micron(hide.MM(b.minX)), hide.Micron(hide.MM(b.minY)),
		hide.Micron(hide.MM(b.maxX)), hide.Micron(hide.MM(b.maxY))},
		Planar: planarFrame{Unit: "mm", Y: "up", Origin: "near left corner of the table",
			Note: "planar millimetres in the table frame, not longitude and latitude"}}
	out.Features = append(out.Features, outlineFeature(c))
	for _, z := range c.Zones {
		out.Features = append(out.Features, feature("zone-"+string(z.Zone), z.Geometry, map[string]any{
			"part": "zone", "zone": z.Zone, "area_mm2": rounded(z.Geometry.Area()), "area_u_mm2": statedOrNil(float64(c.Area.ZoneAreaU(z.Geometry)))}))
	}
	if hasBackbone(c) {
		out.Features = append(out.Features, feature("backbone", lineGeometry{"LineString", c.Backbone}, map[string]any{
			"part": "backbone", "from": "neck", "to": "tail", "length_mm": hide.Micron(c.Backbone[0].Distance(c.Backbone[1])),
			"length_u_mm": statedOrNil(float64(c.BackboneU))}))
	}
	for _, d := range c.Defects {
		out.Features = append(out.Features, defectFeature(d))
	}
	data, err := encodeJSON(out)
	if err != nil {
		return hide.Wrapf(hide.Invalid, err, "geojson")
	}
	if _, err := w.Write(data); err != nil {
		return hide.Wrapf(hide.Internal, err, "geojson")
	}
	return nil
}

func feature(id string, geometry any, properties map[string]any) geoFeature {
	return geoFeature{Type: "Feature", ID: id, Properties: properties, Geometry: geometry}
}

func outlineFeature(c hide.Chart) geoFeature {
	flags := make([]string, len(c.Flags))
	for i, f := range c.Flags {
		flags[i] = f.Code + ": " + f.Text
	}
	return feature("outline", c.Outline, map[string]any{
		"part": "outline", "hide": c.Capture.ID, "supplier": c.Capture.Supplier, "lot": c.Capture.Lot, "article": c.Capture.Article,
		"area_mm2": rounded(c.Area.Value), "area_u_mm2": rounded(c.Area.U), "side": c.Side, "flags": flags, "caution": caution()})
}

func defectFeature(d hide.Defect) geoFeature {
	p := map[string]any{"part": "defect", "defect": d.ID, "kind": d.Kind, "status": d.Status, "probability": d.Probability, "open": d.Open,
		"area_mm2": rounded(d.Area), "length_mm": hide.Micron(d.Length), "width_mm": hide.Micron(d.Width), "zone": d.Zone,
		"edge_distance_mm": hide.Micron(d.EdgeDistance), "lights": d.Lights,
		"area_u_mm2": statedOrNil(float64(d.AreaU)), "length_u_mm": statedOrNil(float64(d.LengthU)), "width_u_mm": statedOrNil(float64(d.WidthU)),
		"edge_distance_u_mm": statedOrNil(float64(d.EdgeDistanceU))}
	if d.Count > 0 {
		p["count"] = d.Count
	}
	if d.Advice != "" {
		p["advice"] = d.Advice
	}
	return feature("defect-"+number(float64(d.ID)), d.Geometry, p)
}

// statedOrNil is null for an uncertainty that nobody stated.
func statedOrNil(u float64) any {
	if u == 0 {
		return nil
	}
	return hide.Micron(hide.MM(u))
}

func rounded(a hide.MM2) float64 { return hide.Micron(hide.MM(a)) }
