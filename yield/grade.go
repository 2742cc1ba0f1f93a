package yield

import (
	"math"
	"slices"
	"strings"

	"hidechart/hide"
	"hidechart/plane"
)

// GradeRule sorts hides into grades. It is data: see ParseGradeRule.
type GradeRule struct {
	Name, Of, Source string
	EdgeIgnored      hide.MM  // flaws, or parts of them, this near the outer edge do not count
	RoundPercentTo   float64  // percentages are rounded to multiples of this; 0: not
	NotCounted       []Filter // flaws that are none for this rule
	// Inadmissible flaws stop the grading (GOST 26343-84): the hide gets no grade.
	Inadmissible []Filter
	Grades       []Grade // best first; the first whose conditions hold is the hide's
}

// Grade is one grade and the sentence of the rule that gives it. Every one of
// All must hold, and if there is any in Any, one of these. Without conditions it
// takes what is left.
type Grade struct {
	Grade, Sentence string
	All, Any        []Condition
}

// Measure is what a condition compares.
type Measure string

// The measures of a hide that a rule can use.
const (
	DamagedPercent Measure = "damaged_percent" // of the area, or of the zones
	DamagedCM2     Measure = "damaged_cm2"     // union of the flaws that the filter picks, in its zones
	UsablePercent  Measure = "usable_percent"  // 100 less damaged
	CleanPercent   Measure = "clean_percent"   // the same, of the zones
	Count          Measure = "count"           // flaws
	Sum            Measure = "sum"             // flaws that meet one of several filters
	LongestMM      Measure = "longest_mm"      // length of the longest flaw
)

// Filter picks flaws. What is left zero picks all.
type Filter struct {
	Kinds      []hide.Kind
	Zones      []hide.Zone // a flaw whose zone is unknown is in all of them
	State      State
	FromLength hide.MM // at least
	OverLength hide.MM // more than
	ToLength   hide.MM // at most
	ToWidth    hide.MM
	EdgeWithin hide.MM // nearer to the outer edge than this
}

// Condition compares one measure with limits; a limit is nil when not given.
type Condition struct {
	Measure            Measure
	Of                 []Filter // of Sum
	Least, Most, Below *float64
	Filter             Filter // of Count and LongestMM; its zones also of the percentages
}

// Graded is the grade of a hide and why.
type Graded struct {
	Rule     string   `json:"rule"`
	Grade    string   `json:"grade"`    // empty: the rule has no grades
	Sentence string   `json:"sentence"` // of the rule, that decided
	Because  []string `json:"because"`  // what was measured for it
	NotOver  []string `json:"not_over"` // for each better grade, what failed
	Damaged  float64  `json:"damaged_percent"`
	Usable   float64  `json:"usable_percent"`
}

func (f Filter) picks(d hide.Defect) bool {
	switch {
	case len(f.Kinds) > 0 && !slices.Contains(f.Kinds, d.Kind),
		len(f.Zones) > 0 && d.Zone != "" && !slices.Contains(f.Zones, d.Zone),
		f.State == Open && !d.Open, f.State == Healed && d.Open,
		d.Length < f.FromLength,
		f.OverLength > 0 && d.Length <= f.OverLength,
		f.ToLength > 0 && d.Length > f.ToLength,
		f.ToWidth > 0 && d.Width > f.ToWidth,
		f.EdgeWithin > 0 && d.EdgeDistance >= f.EdgeWithin:
		return false
	}
	return true
}

// grading is one hide under one rule.
type grading struct {
	rule    GradeRule
	flaws   []hide.Defect
	whole   hide.Shape // the hide with its holes filled: a hole is damaged area
	damaged hide.Shape
	zones   []hide.ZoneShape
}

// GradeHide grades a hide. The chart must be folded; candidates count from the
// probability likely on (DefaultParams().Likely), confirmed and added flaws always.
// Damaged area is the union of the flaws without margins.
// Error: Invalid for geometry that cannot be.
func GradeHide(chart hide.Chart, rule GradeRule, likely float64) (Graded, error) {
	g := grading{rule: rule, whole: hide.Shape{{Outer: chart.Outline.Outer}}, zones: chart.Zones}
	for _, d := range chart.Defects {
		counts := d.Status == hide.Confirmed || d.Status == hide.Added || d.Status == hide.Candidate && d.Probability >= likely
		if counts && !slices.ContainsFunc(rule.NotCounted, func(f Filter) bool { return f.picks(d) }) {
			g.flaws = append(g.flaws, d)
		}
	}
	if err := g.measureDamage(); err != nil {
		return Graded{}, hide.Wrapf(hide.KindOf(err), err, "grade by %s", rule.Name)
	}
	return g.decide()
}

func (g *grading) measureDamage() error {
	var parts []hide.Shape
	for _, d := range g.flaws {
		parts = append(parts, d.Geometry)
	}
	within, err := plane.Buffer(g.whole, -g.rule.EdgeIgnored)
	if err != nil || len(parts) == 0 {
		return err
	}
	all, err := plane.Union(parts...)
	if err != nil {
		return err
	}
	g.damaged, err = plane.Intersection(all, within)
	return err
}

// decide walks the grades from the best down.
func (g *grading) decide() (Graded, error) {
	out := Graded{Rule: g.rule.Name}
	var err error
	if out.Damaged, _, err = g.damagedPercent(nil); err != nil {
		return out, err
	}
	out.Usable = g.rounded(100 - out.Damaged)
	out.Damaged = g.rounded(out.Damaged)
	for _, d := range g.flaws {
		if slices.ContainsFunc(g.rule.Inadmissible, func(f Filter) bool { return f.picks(d) }) {
			out.Because = append(out.Because, words("flaw %d, %s, is inadmissible", d.ID, d.Kind.Words()))
		}
	}
	if out.Because != nil {
		out.Sentence = "an inadmissible defect stops the grading"
		return out, nil
	}
	if len(g.rule.Grades) == 0 {
		out.Sentence = "the rule says what counts and gives no grades"
		return out, nil
	}
	for _, grade := range g.rule.Grades {
		holds, because, fails, err := g.holds(grade)
		if err != nil {
			return out, err
		}
		if holds {
			out.Grade, out.Sentence, out.Because = grade.Grade, grade.Sentence, because
			return out, nil
		}
		out.NotOver = append(out.NotOver, words("%s: %s", grade.Grade, strings.Join(fails, "; ")))
	}
	out.Sentence = "no grade of the rule holds"
	return out, nil
}

func (g *grading) holds(grade Grade) (holds bool, because, fails []string, err error) {
	anyHolds := len(grade.Any) == 0
	holds = true
	for i, c := range slices.Concat(grade.All, grade.Any) {
		ok, text, err := g.check(c)
		if err != nil {
			return false, nil, nil, err
		}
		switch {
		case ok:
			because = append(because, text)
			anyHolds = anyHolds || i >= len(grade.All)
		case i < len(grade.All):
			holds = false
			fails = append(fails, text)
		default:
			fails = append(fails, text)
		}
	}
	return holds && anyHolds, because, fails, nil
}

// check measures one condition and says what it found.
func (g *grading) check(c Condition) (bool, string, error) {
	value, known, err := g.measure(c)
	if err != nil {
		return false, "", err
	}
	if !known {
		return false, words("%s: the chart has no such zone", c.name()), nil
	}
	ok := (c.Least == nil || value >= *c.Least) && (c.Most == nil || value <= *c.Most) && (c.Below == nil || value < *c.Below)
	return ok, words("%s is %s, %s asked for", c.name(), figure(value), c.limits()), nil
}

func (g *grading) measure(c Condition) (value float64, known bool, err error) {
	switch c.Measure {
	case DamagedPercent:
		value, known, err = g.damagedPercent(c.Filter.Zones)
		return g.rounded(value), known, err
	case UsablePercent, CleanPercent:
		value, known, err = g.damagedPercent(c.Filter.Zones)
		return g.rounded(100 - value), known, err
	case DamagedCM2:
		value, known, err = g.damagedArea(c.Filter)
		return math.Round(value*1e6) / 1e6, known, err // what cutting polygons rounds away
	case Count:
		return float64(g.count(c.Filter)), true, nil
	case Sum:
		return float64(g.count(c.Of...)), true, nil
	case LongestMM:
		for _, d := range g.flaws {
			if c.Filter.picks(d) {
				value = max(value, hide.Micron(d.Length)) // as charts are written
			}
		}
		return value, true, nil
	}
	return 0, false, hide.Faultf(hide.Invalid, "unknown measure %q", c.Measure)
}

// count is the number of flaws that one of the filters picks.
func (g *grading) count(filters ...Filter) int {
	n := 0
	for _, d := range g.flaws {
		if slices.ContainsFunc(filters, func(f Filter) bool { return f.picks(d) }) {
			n++
		}
	}
	return n
}

// damagedPercent is the damaged share of the hide, or of some zones; known is
// false when the chart has none of them.
func (g *grading) damagedPercent(zones []hide.Zone) (percent float64, known bool, err error) {
	of := g.whole
	if len(zones) > 0 {
		of = nil
		for _, z := range g.zones {
			if slices.Contains(zones, z.Zone) {
				of = append(of, z.Geometry...)
			}
		}
		// holes belong to their zone: fill them, as in the whole hide
		for i := range of {
			of[i].Holes = nil
		}
	}
	area := of.Area()
	if area <= 0 {
		return 0, false, nil
	}
	bad, err := plane.Intersection(g.damaged, of)
	if err != nil {
		return 0, false, err
	}
	return 100 * float64(bad.Area()/area), true, nil
}

// damagedArea is the union of the flaws that a filter picks, in cm²; where it names
// zones, what of it lies in these. known is false when the chart has none of them.
func (g *grading) damagedArea(f Filter) (cm2 float64, known bool, err error) {
	of := g.whole
	if len(f.Zones) > 0 {
		of = nil
		for _, z := range g.zones {
			if slices.Contains(f.Zones, z.Zone) {
				of = append(of, z.Geometry...)
			}
		}
		if of == nil {
			return 0, false, nil
		}
	}
	anywhere := f
	anywhere.Zones = nil // the geometry says where
	var parts []hide.Shape
	for _, d := range g.flaws {
		if anywhere.picks(d) {
			parts = append(parts, d.Geometry)
		}
	}
	if parts == nil {
		return 0, true, nil
	}
	all, err := plane.Union(parts...)
	if err != nil {
		return 0, false, err
	}
	if all, err = plane.Intersection(all, g.damaged); err != nil { // less the edge that the rule ignores
		return 0, false, err
	}
	sum := hide.MM2(0)
	for _, p := range of { // zones do not overlap
		p.Holes = nil
		in, err := plane.Intersection(all, hide.Shape{p})
		if err != nil {
			return 0, false, err
		}
		sum += in.Area()
	}
	return float64(sum) / 100, true, nil
}

func (g *grading) rounded(percent float64) float64 {
	if step := g.rule.RoundPercentTo; step > 0 {
		return math.Round(percent/step) * step
	}
	// a millionth of a percent: what cutting polygons rounds away
	return math.Round(percent*1e6) / 1e6
}

func (c Condition) name() string {
	text := strings.ReplaceAll(string(c.Measure), "_percent", " area in %")
	text = strings.ReplaceAll(text, "longest_mm", "longest in mm")
	text = strings.ReplaceAll(text, "damaged_cm2", "damaged area in cm²")
	filters := c.Of
	if c.Measure != Sum {
		filters = []Filter{c.Filter}
	}
	var parts []string
	for _, f := range filters {
		if w := f.words(); w != "" {
			parts = append(parts, w)
		}
	}
	if parts == nil {
		return text
	}
	return text + " (" + strings.Join(parts, "; ") + ")"
}

func (f Filter) words() string {
	var parts []string
	if len(f.Kinds) > 0 {
		kinds := make([]string, len(f.Kinds))
		for i, k := range f.Kinds {
			kinds[i] = k.Words()
		}
		parts = append(parts, strings.Join(kinds, ", "))
	}
	if len(f.Zones) > 0 {
		parts = append(parts, "in "+joined(f.Zones))
	}
	if f.State != "" {
		parts = append(parts, string(f.State))
	}
	for _, l := range []struct {
		v    hide.MM
		text string
	}{{f.FromLength, "from %s mm long"}, {f.OverLength, "over %s mm long"}, {f.ToLength, "to %s mm long"},
		{f.ToWidth, "to %s mm wide"}, {f.EdgeWithin, "within %s mm of the edge"}} {
		if l.v > 0 {
			parts = append(parts, words(l.text, figure(float64(l.v))))
		}
	}
	return strings.Join(parts, " ")
}

func (c Condition) limits() string {
	var parts []string
	for _, l := range []struct {
		v    *float64
		text string
	}{{c.Least, "at least %s"}, {c.Most, "at most %s"}, {c.Below, "less than %s"}} {
		if l.v != nil {
			parts = append(parts, words(l.text, figure(*l.v)))
		}
	}
	return strings.Join(parts, " and ")
}

// figure prints a number with at most two decimals.
func figure(v float64) string { return words("%g", math.Round(v*100)/100) }
