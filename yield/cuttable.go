package yield

import (
	"slices"

	"hidechart/hide"
	"hidechart/plane"
)

// Params are the settings of the cuttable area and its range.
type Params struct {
	// Samples is the number of drawings of what is real. 1000 put the 10 and
	// 90 % points within ± 1 % of their rank (√(0.1·0.9/1000)).
	Samples int
	// Seed of the drawings; the same seed gives the same figures.
	Seed uint64
	// Correlation, 0..1, between candidates of one kind on one hide: when one
	// vein was a trick of the light, the others are more likely to be. Ours, 0.3, no
	// source: 0 would make the range of many small candidates vanish.
	Correlation float64
	// Likely is the probability from which a candidate counts in the region
	// that is drawn: as likely as not.
	Likely float64
	// LookFirst is how many candidates are named; 0: five, see lookFirstMost.
	LookFirst int
}

// DefaultParams are the settings for every hide.
func DefaultParams() Params {
	return Params{Samples: 1000, Seed: 1, Correlation: 0.3, Likely: 0.5}
}

// Validate names a setting out of range. Error: Invalid.
func (p Params) Validate() error {
	switch {
	case p.Samples < 10 || p.Samples > 1e6:
		return hide.Faultf(hide.Invalid, "yield: %d samples, want 10 to 1000000", p.Samples)
	case !(p.Correlation >= 0 && p.Correlation <= 1):
		return hide.Faultf(hide.Invalid, "yield: correlation %g is not between 0 and 1", p.Correlation)
	case !(p.Likely > 0 && p.Likely <= 1):
		return hide.Faultf(hide.Invalid, "yield: likely %g is not between 0 and 1", p.Likely)
	}
	return nil
}

// Cut is what a look leaves of a hide.
type Cut struct {
	Look   string
	Region hide.Shape // cuttable, candidates at least as likely as not taken as real
	Area   hide.MM2   // of Region, by the polygons
	Share  float64    // of the leather, 0..1
	Zones  []ZoneCut  // in the order of the chart
	// Refused lists the forbidden flaws that are certain or at least as likely
	// as not; RefusedChance is the probability that at least one is real.
	Refused       []int
	RefusedChance float64
	HideMM2       Range // area of the hide with its uncertainty of measurement
	CuttableMM2   Range
	CuttableShare Range
	LookFirst     []Worth // the candidates whose review moves the yield most, five at most
	Unmet         []string

	p        Params
	flaws    []flaw
	base     hide.Shape // outline less edge strip and holes
	atoms    []atom
	measured hide.Area
	cutter   *Cutter
}

// ZoneCut is the cuttable part of a zone.
type ZoneCut struct {
	Zone     hide.Zone
	Area     hide.MM2 // of the zone
	Cuttable hide.MM2
	Share    float64
}

// Range is a figure that depends on what is not yet known: its median and the
// values that it stays above with nine and with one chance in ten.
type Range struct {
	Median float64 `json:"median"`
	P10    float64 `json:"p10"`
	P90    float64 `json:"p90"`
}

// flaw is a defect that the look counts.
type flaw struct {
	id      int
	kind    hide.Kind
	p       float64 // 1: confirmed or drawn by a reviewer
	rule    Rule
	removed hide.Shape // with its margin
	onHide  hide.Shape // of it, what lies on the base
	box     Box        // of onHide
}

// BandWord names a share of the hide that can be cut: 80–85 % good, above
// that outstanding (common practice, no source); below, the figure itself is said.
func BandWord(share float64) string {
	switch {
	case share > 0.85:
		return "outstanding"
	case share >= 0.80:
		return "good"
	}
	return "below good"
}

// Cuttable computes what a look leaves of a hide. The chart must be folded:
// rejected candidates are left out, confirmed and added flaws are certain.
//
// The region is exact: outline less edge strip, less each counted flaw with its
// margin (GEOS). The range is drawn from the same polygons, see Cut.draw. Holes of
// the outline are never cuttable; their margin comes with the defect of kind hole.
// To ask again after each decision of a review, keep a Cutter.
//
// Errors: Invalid for params, a look or a geometry that cannot be.
func Cuttable(chart hide.Chart, look Look, p Params) (Cut, error) {
	k, err := NewCutter(chart, look, p)
	if err != nil {
		return Cut{}, err
	}
	return k.Cut(chart)
}

func share(part, whole hide.MM2) float64 {
	if whole <= 0 {
		return 0
	}
	return float64(part / whole)
}

// baseRegion is the leather less the strip along its outer edge.
func baseRegion(outline hide.Polygon, strip hide.MM) (hide.Shape, error) {
	if len(outline.Outer) < 3 {
		return nil, hide.Faultf(hide.Invalid, "yield: the chart has no outline")
	}
	whole, err := plane.Buffer(hide.Shape{{Outer: outline.Outer}}, -strip)
	if err != nil {
		return nil, hide.Wrapf(hide.Invalid, err, "edge strip")
	}
	var holes hide.Shape
	for _, h := range outline.Holes {
		holes = append(holes, hide.Polygon{Outer: h}.Oriented())
	}
	if len(holes) == 0 {
		return whole, nil
	}
	return plane.Difference(whole, holes)
}

// without is the base less the flaws of a choice.
func (c *Cut) without(chosen func(flaw) bool) (hide.Shape, error) {
	var parts []hide.Shape
	for _, f := range c.flaws {
		if chosen(f) && len(f.removed) > 0 {
			parts = append(parts, f.removed)
		}
	}
	if parts == nil || len(c.base) == 0 {
		return c.base, nil
	}
	all, err := plane.Union(parts...)
	if err != nil {
		return nil, err
	}
	return plane.Difference(c.base, all)
}

// sortedRange is the median and the 10 and 90 % points of values, linear
// between ranks (Hyndman & Fan 1996, type 7). The values are sorted in place.
func sortedRange(v []float64) Range {
	if len(v) == 0 {
		return Range{}
	}
	slices.Sort(v)
	at := func(q float64) float64 {
		pos := q * float64(len(v)-1)
		i := min(int(pos), len(v)-2)
		if i < 0 {
			return v[0]
		}
		return v[i] + (pos-float64(i))*(v[i+1]-v[i])
	}
	return Range{Median: at(0.5), P10: at(0.1), P90: at(0.9)}
}
