package hide

import "reflect"

// Format names the version of the chart file.
const Format = "hidechart 1"

// Chart is the one source of truth about a hide; every export comes from it.
// Lengths are table millimetres. A review never edits it.
type Chart struct {
	Format   string       `json:"format"`
	Capture  CaptureFacts `json:"capture"`
	Frame    Frame        `json:"frame"`
	Area     Area         `json:"area_mm2"`
	Outline  Polygon      `json:"outline"`
	Backbone [2]Point     `json:"backbone_mm"` // neck end, tail end
	// BackboneU is the standard uncertainty of the backbone's length; 0: not stated.
	BackboneU MM          `json:"backbone_u_mm,omitempty"`
	Side      bool        `json:"side"` // a side, cut along the backbone
	Zones     []ZoneShape `json:"zones"`
	Defects   []Defect    `json:"defects"`
	Flags     []Flag      `json:"flags"`
	Tags      []TagFit    `json:"tags"`
	MadeBy    MadeBy      `json:"made_by"`
}

// CaptureFacts says which photographs of which hide the chart was made from.
type CaptureFacts struct {
	ID        string      `json:"id"`
	Supplier  string      `json:"supplier"`
	Lot       string      `json:"lot"`
	Article   string      `json:"article"`
	Images    []ImageFact `json:"images"`
	Stamp     string      `json:"stamp,omitempty"` // area stamped on the hide, as written
	Substance []Substance `json:"substance,omitempty"`
	Temper    string      `json:"temper,omitempty"`
	TempC     *float64    `json:"temperature_c,omitempty"`
	Humidity  *float64    `json:"humidity_percent,omitempty"`
	Note      string      `json:"note,omitempty"`
}

// ImageFact names one photograph by its hash.
type ImageFact struct {
	Light    Light  `json:"light"`
	Tile     int    `json:"tile,omitempty"` // of several photographs of the table, from 1; 0: one shows it all
	SHA256   string `json:"sha256"`
	WidthPX  int    `json:"width_px"`
	HeightPX int    `json:"height_px"`
}

// Substance is one reading of the leather's thickness.
type Substance struct {
	MM    MM     `json:"mm"`
	Place string `json:"place,omitempty"` // a zone, or words
	At    *Point `json:"at_mm,omitempty"`
}

// Frame is the table frame and the raster it was measured on.
type Frame struct {
	Unit      string  `json:"unit"` // "mm"
	Y         string  `json:"y"`    // "up"
	MMPerPX   float64 `json:"mm_per_px"`
	RigSHA256 string  `json:"rig_sha256"`
	// LensSHA256 is of the lens file; empty: none, or not stated.
	LensSHA256 string `json:"lens_sha256,omitempty"`
	// Aim is what the camera looked at under top light; nil: not stated, or several
	// photographs.
	Aim *Aim `json:"aim,omitempty"`
}

// Aim is where the middle of a photograph lies on the table. It is known from the tags
// to some tenths of a millimetre, and tells a camera that was moved.
type Aim struct {
	At      Point   `json:"at_mm"`
	MMPerPX float64 `json:"mm_per_px"` // of the photograph there, along its rows
	TurnDeg float64 `json:"turn_deg"`  // of its rows against the table's x axis, counter-clockwise
}

// Area is an area with its standard uncertainty (JCGM 100:2008).
type Area struct {
	Value  MM2          `json:"value"`
	U      MM2          `json:"u"`
	Budget []BudgetPart `json:"budget,omitempty"`
}

// BudgetPart is one source of uncertainty of the area, a line of the budget
// table (JCGM 100:2008, 4 and 5): the quantity that the area depends on, how sure
// it is, and what that makes of the area.
type BudgetPart struct {
	Source string  `json:"source"`                       // scale, lens, edge, height, spreading
	U      MM2     `json:"u_mm2"`                        // its share as a standard uncertainty of the area
	Text   string  `json:"text,omitempty"`               // how it was evaluated
	DoF    float64 `json:"degrees_of_freedom,omitempty"` // 0: none stated

	Quantity     string  `json:"quantity,omitempty"`        // what the area depends on, in words
	Value        float64 `json:"value,omitempty"`           // of the quantity, in Unit
	Unit         string  `json:"unit,omitempty"`            // mm, %
	InputU       float64 `json:"standard_u,omitempty"`      // of the quantity, in Unit
	Distribution string  `json:"distribution,omitempty"`    // normal, rectangular
	Type         string  `json:"type,omitempty"`            // A: from repeated readings; B: otherwise
	Sensitivity  float64 `json:"sensitivity_mm2,omitempty"` // change of the area per Unit
}

// ZoneShape is a zone and where it lies.
type ZoneShape struct {
	Zone     Zone  `json:"zone"`
	Geometry Shape `json:"geometry"`
}

// Defect is one flaw, found or drawn.
type Defect struct {
	ID            int     `json:"id"`
	Kind          Kind    `json:"kind"`
	Status        Status  `json:"status"`
	Probability   float64 `json:"probability"` // that it is a defect at all
	Open          bool    `json:"open"`        // a scar or bite not healed
	Geometry      Shape   `json:"geometry"`
	Area          MM2     `json:"area_mm2"`
	Length        MM      `json:"length_mm"`
	Width         MM      `json:"width_mm"`
	Count         int     `json:"count,omitempty"` // members of a cluster
	Zone          Zone    `json:"zone"`
	AreaU         MM2     `json:"area_u_mm2,omitempty"` // standard uncertainties; 0: not stated
	LengthU       MM      `json:"length_u_mm,omitempty"`
	WidthU        MM      `json:"width_u_mm,omitempty"`
	EdgeDistance  MM      `json:"edge_distance_mm"`
	EdgeDistanceU MM      `json:"edge_distance_u_mm,omitempty"`
	Lights        []Light `json:"lights"`
	Advice        string  `json:"advice,omitempty"` // what a person should do to be sure
	// Evidence is what was measured of it, by the feature's name: what its kind
	// and probability follow from, and what is learned from a review of it.
	Evidence map[string]float64 `json:"evidence,omitempty"`
}

// Flag says that a result is usable but doubtful, and why.
type Flag struct {
	Code  string  `json:"code"`
	Text  string  `json:"text"`            // in plain words, the figure among them
	Value float64 `json:"value,omitempty"` // the figure that raised it
	Unit  string  `json:"unit,omitempty"`  // of Value: mm, px, percent of what Text says
}

// TagFit is how far a tag was seen from where the fit puts it.
type TagFit struct {
	ID         int   `json:"id"`
	Light      Light `json:"light"`
	Tile       int   `json:"tile,omitempty"` // as ImageFact's
	ResidualMM MM    `json:"residual_mm"`
	ResidualPX PX    `json:"residual_px"`
}

// MadeBy says which program made the chart with which settings.
type MadeBy struct {
	Version        string `json:"version"`
	OpenCV         string `json:"opencv"`
	SettingsSHA256 string `json:"settings_sha256"`
	// Settings by their keys as a settings file has them, stages as groups; nil: not stored.
	Settings map[string]any `json:"settings,omitempty"`
}

// Same tells whether another chart was made by the same program with the same
// settings, by their hash.
func (m MadeBy) Same(o MadeBy) bool {
	return m.Version == o.Version && m.OpenCV == o.OpenCV && m.SettingsSHA256 == o.SettingsSHA256
}

// SameSettings tells whether another chart was made by the same program with the
// same settings, whatever capture.yaml says of each hide: that counts into the hash.
// Charts that hold no settings are told apart by their hashes.
func (m MadeBy) SameSettings(o MadeBy) bool {
	if m.Settings == nil || o.Settings == nil {
		return m.Same(o)
	}
	return m.Version == o.Version && m.OpenCV == o.OpenCV && reflect.DeepEqual(m.Settings, o.Settings)
}
