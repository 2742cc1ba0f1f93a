package calibrate

import (
	"fmt"
	"strings"

	"hidechart/hide"
)

// leastTags is the smallest number of tags that is measured from: three would
// fit, but none of them could then be seen to have moved.
const leastTags = 4

// Params are the settings of Solve. All "U" values are standard deviations of
// what is assumed beforehand; the photographs correct them where they can.
type Params struct {
	FocalU     float64 `yaml:"focal_u"`      // of ln(focal length / longer side); prior mean ln 0.85
	AspectU    float64 `yaml:"aspect_u"`     // of ln(fy/fx)
	CentreU    float64 `yaml:"centre_u"`     // of the principal point, as a share of the picture's width
	RadialU    float64 `yaml:"radial_u"`     // of k1 and k2
	TangentU   float64 `yaml:"tangential_u"` // of p1 and p2
	TagU       hide.MM `yaml:"tag_u_mm"`     // of a tag centre's coordinate when rig.yaml states none
	TurnUDeg   float64 `yaml:"turn_u_deg"`   // of how straight a tag is glued
	PrintU     float64 `yaml:"print_u"`      // of the printed size of the tags, relative
	CornerU    hide.PX `yaml:"corner_u_px"`  // of a corner, beside its own edge fits
	MovedLimit hide.MM `yaml:"moved_mm"`     // a tag farther from its place counts as moved
	FewTags    int     `yaml:"few_tags"`     // fewer than this get a flag
}

// DefaultParams returns the settings with these reasons:
//
//   - focal 0.5: lenses for a table range from 24 to 70 mm on a 36 mm sensor
//     (0.67 to 1.9 of the longer side; common practice, no source).
//   - aspect 0.003: pixels are square; the shared captures differ by 0.2 %.
//   - centre 0.03: sensors are centred to some tens of pixels of 6000, but
//     stabilised ones and crops wander; OpenCV's published lens set is 1 % off.
//   - radial 0.3: k1 of ordinary lenses lies between -0.4 and 0.2.
//   - tangential 5e-4: decentring of kept lenses; the shared captures have 4e-4.
//   - tag 0.2 mm, turn 0.2°, print 0.001: tags surveyed or glued to a scribed
//     line; both are re-estimated from the residuals, so a rig measured by tape
//     (1 mm) gets the larger uncertainty that it deserves.
//   - corner 0.03 px: what edge fits on rendered tags are off by.
//   - moved 2 mm: twice what a tape measure is wrong by.
//   - few 8: with fewer the area's uncertainty doubles (TestFewTagsCost).
func DefaultParams() Params {
	return Params{FocalU: 0.5, AspectU: 0.003, CentreU: 0.03, RadialU: 0.3, TangentU: 5e-4,
		TagU: 0.2, TurnUDeg: 0.2, PrintU: 0.001, CornerU: 0.03, MovedLimit: 2, FewTags: 8}
}

// Validate lists what is wrong with the settings.
func (p Params) Validate() error {
	var faults []string
	for _, f := range []struct {
		key string
		v   float64
	}{{"focal_u", p.FocalU}, {"aspect_u", p.AspectU}, {"centre_u", p.CentreU}, {"radial_u", p.RadialU},
		{"tangential_u", p.TangentU}, {"tag_u_mm", float64(p.TagU)}, {"turn_u_deg", p.TurnUDeg},
		{"print_u", p.PrintU}, {"corner_u_px", float64(p.CornerU)}, {"moved_mm", float64(p.MovedLimit)}} {
		if !(f.v > 0 && f.v < 1e3) {
			faults = append(faults, fmt.Sprintf("%s: %g is not above 0 and below 1000", f.key, f.v))
		}
	}
	if p.FewTags < leastTags {
		faults = append(faults, fmt.Sprintf("few_tags: %d is below %d", p.FewTags, leastTags))
	}
	if len(faults) > 0 {
		return hide.Faultf(hide.Invalid, "calibrate settings: %s", strings.Join(faults, "; "))
	}
	return nil
}
