package yield

import (
	"os"
	"path/filepath"
	"strings"

	"hidechart/hide"
)

// Project is an order that hides are picked for.
type Project struct {
	Name       string
	Look       Look // with what the project asks of substance, temper and article
	Pieces     Pieces
	Sets       int // wanted; 0: as many as there are
	Prices     Prices
	LeastShare float64 // of the leather that must be cuttable (median); 0: any
	MostCost   float64 // of a set; 0: any
}

// Prices are what hides cost, in one currency.
type Prices struct {
	Currency string
	PerMM2   float64            // of the area that is paid for; 0: none
	Hides    map[string]float64 // of single hides, goes before
}

// Known says that there is a price for a hide.
func (p Prices) known(id string) bool { return p.PerMM2 > 0 || p.Hides[id] > 0 }

// of is the price of a hide: its own, else by the stamped area, else by the
// measured one.
func (p Prices) of(chart hide.Chart) float64 {
	if own, ok := p.Hides[chart.Capture.ID]; ok {
		return own
	}
	return p.PerMM2 * float64(invoiced(chart))
}

// invoiced is the area that is paid for: the stamp's, where there is a clear one.
func invoiced(chart hide.Chart) hide.MM2 {
	if s, err := hide.ParseStamp(chart.Capture.Stamp); chart.Capture.Stamp != "" && err == nil && !s.Ambiguous() {
		return s.Area
	}
	return chart.Area.Value
}

type projectFile struct {
	Project   string   `yaml:"project"`
	Look      string   `yaml:"look"`
	Pieces    string   `yaml:"pieces"`
	Sets      int      `yaml:"sets"`
	Article   wordList `yaml:"article"`
	Temper    wordList `yaml:"temper"`
	Substance *struct {
		From float64 `yaml:"from"`
		To   float64 `yaml:"to"`
	} `yaml:"substance_mm"`
	LeastShare float64 `yaml:"least_cuttable_share"`
	MostCost   float64 `yaml:"most_cost_per_set"`
	Prices     struct {
		Currency string             `yaml:"currency"`
		PerM2    float64            `yaml:"per_m2"`
		PerFt2   float64            `yaml:"per_ft2"`
		Hides    map[string]float64 `yaml:"hides"`
	} `yaml:"prices"`
}

// ReadProject reads a project file: project (its name), look, pieces (both a path
// from the file's own folder; a look may be a name), sets, article and temper (any
// of these words), substance_mm {from, to}, least_cuttable_share, most_cost_per_set,
// prices {currency, per_m2 or per_ft2, hides {id: price}}. Errors: Unreadable,
// NotFound, Invalid naming what is unknown or contradictory.
func ReadProject(path string) (Project, error) {
	data, err := os.ReadFile(path)
	if err != nil {
		return Project{}, hide.Wrapf(hide.Unreadable, err, "project")
	}
	p, err := parseProject(data, filepath.Dir(path))
	if err != nil {
		return Project{}, hide.Wrapf(hide.KindOf(err), err, "%s", path)
	}
	return p, nil
}

func parseProject(data []byte, dir string) (Project, error) {
	var f projectFile
	if err := hide.DecodeYAMLFull(data, "project", &f); err != nil {
		return Project{}, err
	}
	if err := f.check(); err != nil {
		return Project{}, err
	}
	look := f.Look
	if strings.HasSuffix(look, ".yaml") && !filepath.IsAbs(look) {
		look = filepath.Join(dir, look)
	}
	p := Project{Name: f.Project, Sets: f.Sets, LeastShare: f.LeastShare, MostCost: f.MostCost,
		Prices: Prices{Currency: f.Prices.Currency, PerMM2: f.Prices.PerM2 / 1e6, Hides: f.Prices.Hides}}
	if f.Prices.PerFt2 > 0 {
		p.Prices.PerMM2 = f.Prices.PerFt2 / float64(hide.FromFeet2(1))
	}
	var err error
	if p.Look, err = FindLook(look); err != nil {
		return Project{}, err
	}
	if f.Substance != nil {
		p.Look.Substance = [2]hide.MM{hide.MM(f.Substance.From), hide.MM(f.Substance.To)}
	}
	if f.Temper != nil {
		p.Look.Temper = f.Temper
	}
	if f.Article != nil {
		p.Look.Finish = f.Article
	}
	if err := p.Look.Validate(); err != nil {
		return Project{}, err
	}
	pieces := f.Pieces
	if !filepath.IsAbs(pieces) {
		pieces = filepath.Join(dir, pieces)
	}
	p.Pieces, err = ReadPieces(pieces)
	return p, err
}

// check names every contradiction of a project file.
func (f projectFile) check() error {
	var faults []string
	add := func(bad bool, text string) {
		if bad {
			faults = append(faults, text)
		}
	}
	add(f.Project == "", "project: give it a name")
	add(f.Look == "", "look: name one")
	add(f.Pieces == "", "pieces: name their drawing")
	add(f.Sets < 0 || f.Sets > 100000, words("sets: %d is not between 0 and 100000", f.Sets))
	add(f.Substance != nil && !(f.Substance.To > 0 && f.Substance.From >= 0), "substance_mm: give from and to")
	add(!(f.LeastShare >= 0 && f.LeastShare <= 1), words("least_cuttable_share: %g is not between 0 and 1", f.LeastShare))
	add(!(f.MostCost >= 0), words("most_cost_per_set: %g", f.MostCost))
	add(!(f.Prices.PerM2 >= 0) || !(f.Prices.PerFt2 >= 0), "prices: a price is not negative")
	add(f.Prices.PerM2 > 0 && f.Prices.PerFt2 > 0, "prices: give per_m2 or per_ft2, not both")
	for id, v := range f.Prices.Hides {
		add(!(v > 0), words("prices: %g for hide %s", v, id))
	}
	priced := f.Prices.PerM2 > 0 || f.Prices.PerFt2 > 0 || len(f.Prices.Hides) > 0
	add(f.MostCost > 0 && !priced, "most_cost_per_set: there are no prices")
	add(priced && f.Prices.Currency == "", "prices: name the currency")
	if faults == nil {
		return nil
	}
	return hide.Faultf(hide.Invalid, "project %q: %s", f.Project, strings.Join(faults, "; "))
}
