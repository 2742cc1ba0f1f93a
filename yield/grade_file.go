package yield

import (
	"embed"
	"errors"
	"os"
	"slices"
	"strings"

	"hidechart/hide"
)

//go:embed grades/*.yaml
var gradeFiles embed.FS

type gradeFile struct {
	Rule           string       `yaml:"rule"`
	Of             string       `yaml:"of"`
	Source         string       `yaml:"source"`
	EdgeIgnored    float64      `yaml:"edge_ignored_mm"`
	RoundPercentTo float64      `yaml:"round_percent_to"`
	NotCounted     []filterFile `yaml:"not_counted"`
	Inadmissible   []filterFile `yaml:"inadmissible"`
	Grades         []struct {
		Grade    string          `yaml:"grade"`
		Sentence string          `yaml:"sentence"`
		All      []conditionFile `yaml:"all"`
		Any      []conditionFile `yaml:"any"`
	} `yaml:"grades"`
}

type filterFile struct {
	Kinds      []hide.Kind `yaml:"kinds"`
	Zones      []hide.Zone `yaml:"zones"`
	State      State       `yaml:"state"`
	FromLength float64     `yaml:"from_length_mm"`
	OverLength float64     `yaml:"over_length_mm"`
	ToLength   float64     `yaml:"to_length_mm"`
	ToWidth    float64     `yaml:"to_width_mm"`
	EdgeWithin float64     `yaml:"edge_within_mm"`
}

type conditionFile struct {
	Measure    Measure      `yaml:"measure"`
	Of         []filterFile `yaml:"of"`
	Least      *float64     `yaml:"least"`
	Most       *float64     `yaml:"most"`
	Below      *float64     `yaml:"below"`
	filterFile `yaml:",inline"`
}

// GradeNames lists the rules that come with the program.
func GradeNames() []string {
	entries, err := gradeFiles.ReadDir("grades")
	if err != nil {
		panic(err) // the folder is part of the program
	}
	var names []string
	for _, e := range entries {
		names = append(names, strings.TrimSuffix(e.Name(), ".yaml"))
	}
	return names
}

// FindGradeRule gives the rule of a name that comes with the program, or reads
// the file of that path. Errors: NotFound, Unreadable, Invalid.
func FindGradeRule(name string) (GradeRule, error) {
	if slices.Contains(GradeNames(), name) {
		data, err := gradeFiles.ReadFile("grades/" + name + ".yaml")
		if err != nil {
			return GradeRule{}, hide.Wrapf(hide.Internal, err, "rule %s", name)
		}
		return ParseGradeRule(data)
	}
	data, err := os.ReadFile(name)
	if errors.Is(err, os.ErrNotExist) {
		return GradeRule{}, hide.Faultf(hide.NotFound, "grade rule %q: no such file, and no rule of that name; there are %s", name, strings.Join(GradeNames(), ", "))
	}
	if err != nil {
		return GradeRule{}, hide.Wrapf(hide.Unreadable, err, "grade rule")
	}
	return ParseGradeRule(data)
}

// ParseGradeRule reads a rule: rule (its name), of, source, edge_ignored_mm,
// round_percent_to, not_counted and inadmissible (filters), grades from the best down, each with
// grade, sentence, all and any (conditions). A condition has a measure
// (damaged_percent, damaged_cm2, usable_percent, clean_percent, count, sum, longest_mm), limits
// (least, most, below) and a filter (kinds, zones, state, from_length_mm,
// over_length_mm, to_length_mm, to_width_mm, edge_within_mm); sum has a list of
// filters, of. Error: Invalid, naming what is unknown or contradictory.
func ParseGradeRule(data []byte) (GradeRule, error) {
	var f gradeFile
	if err := hide.DecodeYAMLFull(data, "grade rule", &f); err != nil {
		return GradeRule{}, err
	}
	r := GradeRule{Name: f.Rule, Of: f.Of, Source: f.Source, EdgeIgnored: hide.MM(f.EdgeIgnored), RoundPercentTo: f.RoundPercentTo,
		NotCounted: filters(f.NotCounted), Inadmissible: filters(f.Inadmissible)}
	for _, g := range f.Grades {
		r.Grades = append(r.Grades, Grade{Grade: g.Grade, Sentence: g.Sentence, All: conditions(g.All), Any: conditions(g.Any)})
	}
	return r, r.Validate()
}

func filters(list []filterFile) []Filter {
	var out []Filter
	for _, f := range list {
		out = append(out, f.filter())
	}
	return out
}

func (f filterFile) filter() Filter {
	return Filter{Kinds: f.Kinds, Zones: f.Zones, State: f.State, FromLength: hide.MM(f.FromLength), OverLength: hide.MM(f.OverLength),
		ToLength: hide.MM(f.ToLength), ToWidth: hide.MM(f.ToWidth), EdgeWithin: hide.MM(f.EdgeWithin)}
}

func conditions(list []conditionFile) []Condition {
	var out []Condition
	for _, c := range list {
		out = append(out, Condition{Measure: c.Measure, Of: filters(c.Of), Least: c.Least, Most: c.Most, Below: c.Below, Filter: c.filter()})
	}
	return out
}

// Validate lists what is wrong in a rule. Error: Invalid.
func (r GradeRule) Validate() error {
	var faults []string
	add := func(f string) { faults = append(faults, f) }
	if r.Name == "" {
		add("rule: give it a name")
	}
	checkMargin(add, "edge_ignored_mm", r.EdgeIgnored)
	if !(r.RoundPercentTo >= 0 && r.RoundPercentTo <= 10) {
		add(words("round_percent_to: %g is not between 0 and 10", r.RoundPercentTo))
	}
	for i, f := range r.NotCounted {
		f.validate(add, words("not_counted, filter %d", i+1))
	}
	for i, f := range r.Inadmissible {
		f.validate(add, words("inadmissible, filter %d", i+1))
	}
	for i, g := range r.Grades {
		if g.Grade == "" || g.Sentence == "" {
			add(words("grade %d: give its grade and the sentence of the rule", i+1))
		}
		if len(g.All)+len(g.Any) == 0 && i < len(r.Grades)-1 {
			add(words("grade %s has no condition, so the grades after it can never apply", g.Grade))
		}
		for j, c := range slices.Concat(g.All, g.Any) {
			c.validate(add, words("grade %s, condition %d", g.Grade, j+1))
		}
	}
	if faults == nil {
		return nil
	}
	return hide.Faultf(hide.Invalid, "grade rule %q: %s", r.Name, strings.Join(faults, "; "))
}

func (c Condition) validate(add func(string), where string) {
	if !slices.Contains([]Measure{DamagedPercent, DamagedCM2, UsablePercent, CleanPercent, Count, Sum, LongestMM}, c.Measure) {
		add(words("%s: measure %q is unknown", where, c.Measure))
	}
	if c.Least == nil && c.Most == nil && c.Below == nil {
		add(words("%s: give least, most or below", where))
	}
	if c.Least != nil && (c.Most != nil && *c.Least > *c.Most || c.Below != nil && *c.Least >= *c.Below) {
		add(words("%s: least %g contradicts the upper limit", where, *c.Least))
	}
	if (c.Measure == Sum) != (len(c.Of) > 0) {
		add(words("%s: the measure sum, and only it, has a list \"of\"", where))
	}
	c.Filter.validate(add, where)
	for _, f := range c.Of {
		f.validate(add, where)
	}
}

func (f Filter) validate(add func(string), where string) {
	for _, k := range f.Kinds {
		if !k.Valid() {
			add(words("%s: unknown kind %q; known: %s", where, k, kindList()))
		}
	}
	for _, z := range f.Zones {
		if !slices.Contains(hide.Zones(), z) {
			add(words("%s: unknown zone %q; known: %s", where, z, zoneList()))
		}
	}
	if !slices.Contains([]State{"", Open, Healed}, f.State) {
		add(words("%s: state %q, want open or healed", where, f.State))
	}
	if f.ToLength > 0 && max(f.FromLength, f.OverLength) > f.ToLength {
		add(words("%s: lengths from %g to %g mm contradict each other", where, max(f.FromLength, f.OverLength), f.ToLength))
	}
}
