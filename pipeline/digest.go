package pipeline

import (
	"hidechart/hide"
	"hidechart/plane"
)

// Digest is a chart in a line of a table.
type Digest struct {
	ID       string            `json:"id"`
	Area     hide.MM2          `json:"area_mm2"`
	U        hide.MM2          `json:"u_mm2"`                     // standard uncertainty
	Clear    float64           `json:"clear_share"`               // of the area, free of candidates at least as likely as not
	Kinds    map[hide.Kind]int `json:"candidates"`                // by kind, those at least as likely as not
	Flags    []hide.Flag       `json:"flags"`                     // doubts
	Stamp    string            `json:"stamp,omitempty"`           // as written on the hide
	Side     bool              `json:"side"`                      // a side, not a whole hide
	OffStamp *float64          `json:"off_stamp_share,omitempty"` // (area − stamp) / stamp
}

// asLikely is the probability from which a candidate is taken out of the clear
// area: as likely a defect as not.
const asLikely = 0.5

// NewDigest sums a chart up. Error: Invalid when its shapes cannot be merged.
func NewDigest(c hide.Chart) (Digest, error) {
	d := Digest{ID: c.Capture.ID, Area: c.Area.Value, U: c.Area.U, Kinds: map[hide.Kind]int{}, Flags: c.Flags, Stamp: c.Capture.Stamp, Side: c.Side}
	var taken []hide.Shape
	for _, f := range c.Defects {
		if f.Status == hide.Rejected {
			continue
		}
		if f.Probability >= asLikely {
			d.Kinds[f.Kind]++
			taken = append(taken, f.Geometry)
		}
	}
	if s, err := hide.ParseStamp(c.Capture.Stamp); c.Capture.Stamp != "" && err == nil {
		off := float64(c.Area.Value/s.Area) - 1
		d.OffStamp = &off
	}
	var err error
	d.Clear, err = clearShare(c, taken)
	return d, err
}

func clearShare(c hide.Chart, taken []hide.Shape) (float64, error) {
	if len(taken) == 0 || c.Area.Value <= 0 {
		return 1, nil
	}
	all, err := plane.Union(taken...)
	if err != nil {
		return 0, err
	}
	left, err := plane.Difference(hide.Shape{c.Outline}, all)
	if err != nil {
		return 0, err
	}
	return float64(left.Area() / c.Outline.Area()), nil
}
