package yield

import (
	"embed"
	"slices"
	"strings"

	"hidechart/hide"
)

// Rule says what a look makes of a flaw. Source: GOST 26343-84, by which each
// defect of a hide is inadmissible, counted or not counted.
type Rule string

// The rules. A forbidden flaw is cut out like a counted one, and the hide as a
// whole is refused for the look.
const (
	Forbidden  Rule = "forbidden"
	Counted    Rule = "counted"
	NotCounted Rule = "not_counted"
)

// State tells open flaws from healed ones: an open scar or bite weakens the
// leather.
type State string

// The states a clause can ask for; empty takes both.
const (
	Open   State = "open"
	Healed State = "healed"
)

// Clause is one rule about a kind of flaw. The first clause of a kind whose
// conditions a flaw meets decides about it. A condition left zero is met by all.
type Clause struct {
	Rule       Rule
	State      State       // open or healed
	Zones      []hide.Zone // where on the hide; a flaw with an unknown zone is in every zone
	FromLength hide.MM     // only flaws at least this long
	FromWidth  hide.MM
	FromArea   hide.MM2
	Margin     hide.MM // left around the flaw when it is cut out
}

// Look is what a project wants of the surface, and what it asks of the leather.
type Look struct {
	Name      string
	Words     string  // what it is for
	EdgeStrip hide.MM // left along the outer edge
	Margin    hide.MM // around a flaw of a kind that Kinds does not name

	// Kinds holds the clauses. A kind it does not name is counted, whatever its
	// size: a look must say what it accepts. A named kind's flaw that meets no
	// clause is not counted.
	Kinds map[hide.Kind][]Clause

	Substance [2]hide.MM // least and most thickness; 0, 0: not asked for
	Temper    []string   // any of these; none: not asked for
	Finish    []string   // likewise, looked for in the article's words
}

// largestMargin in mm: a hide is some 2 m wide, so a wider strip or margin is
// a slip of the unit.
const largestMargin = 300

// clauseFor is the clause that decides about a flaw.
func (l Look) clauseFor(d hide.Defect) Clause {
	clauses, named := l.Kinds[d.Kind]
	if !named {
		return Clause{Rule: Counted, Margin: l.Margin}
	}
	for _, c := range clauses {
		if c.meets(d) {
			return c
		}
	}
	return Clause{Rule: NotCounted}
}

func (c Clause) meets(d hide.Defect) bool {
	switch {
	case c.State == Open && !d.Open, c.State == Healed && d.Open:
		return false
	case len(c.Zones) > 0 && d.Zone != "" && !slices.Contains(c.Zones, d.Zone):
		return false
	}
	return d.Length >= c.FromLength && d.Width >= c.FromWidth && d.Area >= c.FromArea
}

// covers reports whether every flaw that meets e meets c too.
func (c Clause) covers(e Clause) bool {
	if c.State != "" && c.State != e.State {
		return false
	}
	for _, z := range e.Zones {
		if len(c.Zones) > 0 && !slices.Contains(c.Zones, z) {
			return false
		}
	}
	if len(e.Zones) == 0 && len(c.Zones) > 0 && len(c.Zones) < len(hide.Zones()) {
		return false
	}
	return c.FromLength <= e.FromLength && c.FromWidth <= e.FromWidth && c.FromArea <= e.FromArea
}

// Judge is the look's word on a flaw and the margin to leave around it.
func (l Look) Judge(d hide.Defect) (Rule, hide.MM) {
	c := l.clauseFor(d)
	return c.Rule, c.Margin
}

// Validate lists everything in a look that contradicts itself. Error: Invalid.
func (l Look) Validate() error {
	var faults []string
	add := func(f string) { faults = append(faults, f) }
	if l.Name == "" {
		add("look: give it a name")
	}
	checkMargin(add, "edge_strip_mm", l.EdgeStrip)
	checkMargin(add, "margin_mm", l.Margin)
	if lo, hi := l.Substance[0], l.Substance[1]; lo < 0 || hi < lo {
		add(words("substance_mm: from %g to %g mm contradict each other", lo, hi))
	}
	for _, k := range hide.Kinds() {
		for i, c := range l.Kinds[k] {
			c.validate(add, words("%s, clause %d", k, i+1))
			for j, before := range l.Kinds[k][:i] {
				if before.covers(c) {
					add(words("%s, clause %d can never apply: clause %d takes every flaw it could", k, i+1, j+1))
					break
				}
			}
		}
	}
	for k := range l.Kinds {
		if !k.Valid() {
			add(words("unknown kind %q; known: %s", k, kindList()))
		}
	}
	if faults == nil {
		return nil
	}
	slices.Sort(faults)
	return hide.Faultf(hide.Invalid, "look %q: %s", l.Name, strings.Join(faults, "; "))
}

func (c Clause) validate(add func(string), where string) {
	if !slices.Contains([]Rule{Forbidden, Counted, NotCounted}, c.Rule) {
		add(words("%s: rule %q, want forbidden, counted or not_counted", where, c.Rule))
	}
	if !slices.Contains([]State{"", Open, Healed}, c.State) {
		add(words("%s: state %q, want open or healed", where, c.State))
	}
	for _, z := range c.Zones {
		if !slices.Contains(hide.Zones(), z) {
			add(words("%s: unknown zone %q; known: %s", where, z, zoneList()))
		}
	}
	checkMargin(add, where+": margin_mm", c.Margin)
	checkSize(add, where+": from_length_mm", float64(c.FromLength))
	checkSize(add, where+": from_width_mm", float64(c.FromWidth))
	checkSize(add, where+": from_area_mm2", float64(c.FromArea))
	if c.FromWidth > c.FromLength && c.FromLength > 0 {
		add(words("%s: from_width_mm %g is more than from_length_mm %g: a flaw is never wider than long", where, c.FromWidth, c.FromLength))
	}
	if c.FromArea > 0 && c.FromLength > 0 && c.FromWidth > 0 && c.FromArea > hide.MM2(largestFlaw) {
		add(words("%s: from_area_mm2 %g is larger than a hide", where, c.FromArea))
	}
	if c.Rule == NotCounted && c.Margin > 0 {
		add(words("%s: a margin of %g mm around a flaw that is not counted", where, c.Margin))
	}
}

// largestFlaw in mm²: 10 m², beyond the largest hide seen (70 ft² = 6.5 m²;
// common practice, no source).
const largestFlaw = 1e7

func checkMargin(add func(string), key string, m hide.MM) {
	if !(m >= 0 && m <= largestMargin) {
		add(words("%s: %g mm is not between 0 and %d", key, m, largestMargin))
	}
}

func checkSize(add func(string), key string, v float64) {
	if !(v >= 0 && v <= largestFlaw) {
		add(words("%s: %g is not between 0 and %g", key, v, float64(largestFlaw)))
	}
}

//go:embed looks/*.yaml
var lookFiles embed.FS

// LookNames lists the looks that come with the program.
func LookNames() []string {
	entries, err := lookFiles.ReadDir("looks")
	if err != nil {
		panic(err) // the folder is part of the program
	}
	var names []string
	for _, e := range entries {
		names = append(names, strings.TrimSuffix(e.Name(), ".yaml"))
	}
	return names
}
