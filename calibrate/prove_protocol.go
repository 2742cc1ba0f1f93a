package calibrate

import (
	"fmt"
	"strings"

	"hidechart/hide"
)

// Protocol says which charts are which runs of an acceptance test.
type Protocol struct {
	Place, By string
	Months    int // until it is due again
	Limit     hide.ProofLimit
	Range     [2]hide.MM2 // areas the table is used for
	Templates []Template
	Runs      []ProtocolRun
	Sums      []ProtocolSum
}

// Template is a shape of known area, such as a cut sheet.
type Template struct {
	Name   string
	Area   hide.MM2
	U      hide.MM2 // standard uncertainty of its area
	Source string   // how its area is known: a certificate's number, a ruler
}

// ProtocolRun is one measurement of a template in a position.
type ProtocolRun struct {
	Template string `yaml:"template"`
	Position string `yaml:"position"`
	Chart    string `yaml:"chart"` // file name
}

// ProtocolSum is one summation test.
type ProtocolSum struct {
	Name  string        `yaml:"name"`
	Parts []ProtocolRun `yaml:"parts"` // position may be left out
}

// What the published protocol asks (Polish regulation Dz.U.2008.4.26, § 10, by
// shared/facts.md): at least five runs per template in different positions,
// templates near both ends of the range, the summation test three times.
const (
	leastRuns = 5
	leastSums = 3
	// A template counts as near an end within this share of the range; the
	// regulation as handed down here gives no figure, so this is ours.
	nearEnd = 0.2
	// A template's own uncertainty (2u) may take up a third of the limit at
	// most; the usual rule for reference measures (common practice, no source).
	templateShare = 1.0 / 3
	// The largest error allowed when the protocol names none: 1.0 %, not below
	// 1 dm² (from memory, by shared/facts.md, of the European rules for leather
	// area machines).
	limitPercent  = 1.0
	limitLeastDM2 = 1.0
	// Months until the test is due again when the protocol names none. The
	// interval is the user's own rule, no source; the law may set another.
	dueMonths = 12
)

type protocolFile struct {
	Place     string     `yaml:"place"`
	By        string     `yaml:"by"`
	Months    *int       `yaml:"interval_months"`
	Percent   *float64   `yaml:"limit_percent"`
	Least     *float64   `yaml:"limit_least_dm2"`
	Range     [2]float64 `yaml:"range_dm2"`
	Templates []struct {
		Name   string  `yaml:"name"`
		Area   float64 `yaml:"area_dm2"`
		U      float64 `yaml:"u_dm2"`
		Source string  `yaml:"source"`
	} `yaml:"templates"`
	Runs []ProtocolRun `yaml:"runs"`
	Sums []ProtocolSum `yaml:"sums"`
}

// ParseProtocol reads a protocol file (YAML): place, by, interval_months (12),
// limit_percent (1.0), limit_least_dm2 (1.0), range_dm2 [least, most], templates
// {name, area_dm2, u_dm2, source}, runs {template, position, chart}, sums {name,
// parts: runs}. Error: Invalid, with every fault, for unknown keys and values
// that make no sense. Runs that are missing are found by Prove.
func ParseProtocol(data []byte) (Protocol, error) {
	var f protocolFile
	if err := hide.DecodeYAMLFull(data, "protocol", &f); err != nil {
		return Protocol{}, err
	}
	p := Protocol{Place: f.Place, By: f.By, Months: or(f.Months, dueMonths),
		Limit: hide.ProofLimit{Percent: or(f.Percent, limitPercent), Least: hide.FromDM2(or(f.Least, limitLeastDM2))},
		Range: [2]hide.MM2{hide.FromDM2(f.Range[0]), hide.FromDM2(f.Range[1])}, Runs: f.Runs, Sums: f.Sums}
	for _, t := range f.Templates {
		p.Templates = append(p.Templates, Template{Name: t.Name, Area: hide.FromDM2(t.Area), U: hide.FromDM2(t.U), Source: t.Source})
	}
	return p, p.Validate()
}

func or[T any](v *T, otherwise T) T {
	if v == nil {
		return otherwise
	}
	return *v
}

// Validate lists what is wrong with the protocol as written.
func (p Protocol) Validate() error {
	faults := append(p.headFaults(), p.templateFaults()...)
	known := map[string]bool{}
	for _, t := range p.Templates {
		known[t.Name] = true
	}
	named := func(where string, r ProtocolRun) {
		if !known[r.Template] {
			faults = append(faults, fmt.Sprintf("%s: there is no template %q", where, r.Template))
		}
		if r.Chart == "" {
			faults = append(faults, where+": no chart named")
		}
	}
	for i, r := range p.Runs {
		where := fmt.Sprintf("runs[%d]", i)
		named(where, r)
		if strings.TrimSpace(r.Position) == "" {
			faults = append(faults, where+": no position named")
		}
	}
	for i, s := range p.Sums {
		where := fmt.Sprintf("sums[%d]", i)
		if len(s.Parts) < 2 {
			faults = append(faults, where+": a sum needs two parts or more")
		}
		for _, r := range s.Parts {
			named(where, r)
		}
	}
	if len(faults) > 0 {
		return hide.Faultf(hide.Invalid, "protocol: %s", strings.Join(faults, "; "))
	}
	return nil
}

func (p Protocol) headFaults() []string {
	var faults []string
	if strings.TrimSpace(p.Place) == "" {
		faults = append(faults, "place: name the table that is tested")
	}
	if p.Months < 1 || p.Months > 120 {
		faults = append(faults, fmt.Sprintf("interval_months: %d, want 1 to 120", p.Months))
	}
	if !(p.Limit.Percent > 0 && p.Limit.Percent <= 10) { // 10 % would prove nothing
		faults = append(faults, fmt.Sprintf("limit_percent: %g, want above 0 and at most 10", p.Limit.Percent))
	}
	if !(p.Limit.Least >= 0 && p.Limit.Least <= p.Range[0]) {
		faults = append(faults, fmt.Sprintf("limit_least_dm2: %g, want 0 up to the range's lower end", p.Limit.Least.DM2()))
	}
	if !(p.Range[0] > 0 && p.Range[1] > p.Range[0]) || p.Range[1].M2() > 1000 { // a thousand m² is no hide
		faults = append(faults, "range_dm2: want [least, most] of the areas the table is used for")
	}
	return faults
}

func (p Protocol) templateFaults() []string {
	var faults []string
	seen := map[string]bool{}
	for i, t := range p.Templates {
		where := fmt.Sprintf("templates[%d] %q", i, t.Name)
		switch {
		case strings.TrimSpace(t.Name) == "":
			faults = append(faults, where+": no name")
		case seen[t.Name]:
			faults = append(faults, where+": the name is taken")
		case !(t.Area > 0) || t.Area.M2() > 1000:
			faults = append(faults, fmt.Sprintf("%s: area_dm2 %g", where, t.Area.DM2()))
		case !(t.U > 0):
			faults = append(faults, where+": u_dm2: state the uncertainty of its area")
		case 2*t.U > p.Limit.Of(t.Area)*templateShare:
			faults = append(faults, fmt.Sprintf("%s: its area is too unsure (2u = %.2f dm²) to prove a limit of %.2f dm²: at most a third",
				where, 2*t.U.DM2(), p.Limit.Of(t.Area).DM2()))
		}
		seen[t.Name] = true
	}
	return faults
}
