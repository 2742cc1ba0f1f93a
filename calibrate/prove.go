package calibrate

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"hidechart/hide"
)

// ProofChart is a chart that was read for an acceptance test.
type ProofChart struct {
	SHA256 string // of the file
	Chart  hide.Chart
}

// Prove computes an acceptance test from its charts, keyed by the names the
// protocol gives them. day is the day of the test; a table that fails is due
// again at once. Areas are rounded to 0.01 mm².
//
// It refuses rather than certify half a test. Error: Invalid, naming every gap,
// when runs, positions, templates near an end of the range or sums are missing,
// or a chart is; Conflict when charts come from different rigs, programs or
// settings, so that they do not prove one table. A test that was complete and
// failed is a Proof with Pass false.
func Prove(p Protocol, charts map[string]ProofChart, day time.Time) (hide.Proof, error) {
	if err := p.Validate(); err != nil {
		return hide.Proof{}, err
	}
	gaps, err := p.gaps(charts)
	if err != nil {
		return hide.Proof{}, err
	}
	if len(gaps) > 0 {
		return hide.Proof{}, hide.Faultf(hide.Invalid, "not certified, the test is incomplete: %s", strings.Join(gaps, "; "))
	}
	first := charts[p.Runs[0].Chart].Chart
	if err := p.oneTable(charts, first); err != nil {
		return hide.Proof{}, err
	}
	out := hide.Proof{Format: hide.ProofFormat, Place: p.Place, By: p.By, Months: p.Months, Limit: p.Limit, Range: p.Range,
		Date: day.Format(time.DateOnly), Due: monthsLater(day, p.Months).Format(time.DateOnly),
		RigSHA256: first.Frame.RigSHA256, MadeBy: first.MadeBy, Pass: true}
	p.addRuns(&out, charts)
	p.addSums(&out, charts)
	p.addTemplates(&out)
	if !out.Pass {
		out.Due = out.Date
	}
	return out, nil
}

// monthsLater is the same day some months on, or the month's last day where
// there is no such day.
func monthsLater(day time.Time, months int) time.Time {
	later := day.AddDate(0, months, 0)
	if later.Day() != day.Day() {
		return later.AddDate(0, 0, -later.Day())
	}
	return later
}

func (p Protocol) template(name string) Template {
	for _, t := range p.Templates {
		if t.Name == name {
			return t
		}
	}
	return Template{}
}

// oneTable checks that all charts were made on one rig by one program with one
// set of settings.
func (p Protocol) oneTable(charts map[string]ProofChart, first hide.Chart) error {
	for _, r := range p.all() {
		c := charts[r.Chart].Chart
		switch {
		case c.Frame.RigSHA256 != first.Frame.RigSHA256:
			return hide.Faultf(hide.Conflict, "chart %s was made with another rig file than %s: they do not prove one table", r.Chart, p.Runs[0].Chart)
		case c.Frame.LensSHA256 != first.Frame.LensSHA256:
			return hide.Faultf(hide.Conflict, "chart %s was made with another lens file than %s: they do not prove one table", r.Chart, p.Runs[0].Chart)
		case !c.MadeBy.SameSettings(first.MadeBy):
			return hide.Faultf(hide.Conflict, "chart %s was made by another version or with other settings than %s", r.Chart, p.Runs[0].Chart)
		}
	}
	return nil
}

// all lists the runs and the parts of the sums.
func (p Protocol) all() []ProtocolRun {
	out := append([]ProtocolRun(nil), p.Runs...)
	for _, s := range p.Sums {
		out = append(out, s.Parts...)
	}
	return out
}

// Charts lists the charts that the protocol names, each once, sorted.
func (p Protocol) Charts() []string {
	var names []string
	for _, r := range p.all() {
		names = append(names, r.Chart)
	}
	slices.Sort(names)
	return slices.Compact(names)
}

func (p Protocol) addRuns(out *hide.Proof, charts map[string]ProofChart) {
	for _, r := range p.Runs {
		c, t := charts[r.Chart], p.template(r.Template)
		run := hide.ProofRun{Template: r.Template, Position: r.Position, Chart: r.Chart, SHA256: c.SHA256,
			Area: hundredth(c.Chart.Area.Value), U: hundredth(c.Chart.Area.U), Limit: hundredth(p.Limit.Of(t.Area))}
		run.Error = hundredth(run.Area - t.Area)
		run.Pass = within(run.Error, run.Limit)
		for _, f := range c.Chart.Flags {
			run.Flags = append(run.Flags, f.Code)
		}
		out.Runs = append(out.Runs, run)
		judge(out, fmt.Sprintf("%s, %s", r.Template, r.Position), run.Error, t.Area, run.Limit)
		out.Within2U[1]++
		if math.Abs(float64(run.Error)) <= 2*math.Hypot(float64(run.U), float64(t.U)) {
			out.Within2U[0]++
		}
	}
}

func (p Protocol) addSums(out *hide.Proof, charts map[string]ProofChart) {
	for i, s := range p.Sums {
		sum := hide.ProofSum{Name: s.Name}
		if sum.Name == "" {
			sum.Name = fmt.Sprint(i + 1)
		}
		for _, r := range s.Parts {
			sum.Charts = append(sum.Charts, r.Chart)
			sum.True += p.template(r.Template).Area
			sum.Area += charts[r.Chart].Chart.Area.Value
		}
		sum.Area, sum.True = hundredth(sum.Area), hundredth(sum.True)
		sum.Error, sum.Limit = hundredth(sum.Area-sum.True), hundredth(p.Limit.Of(sum.True))
		sum.Pass = within(sum.Error, sum.Limit)
		out.Sums = append(out.Sums, sum)
		judge(out, "sum "+sum.Name, sum.Error, sum.True, sum.Limit)
	}
}

// hundredth rounds to 0.01 mm²: far below what any table resolves, and free of
// the round-off that would fail a run lying on its limit.
func hundredth(a hide.MM2) hide.MM2 { return hide.MM2(math.Round(float64(a)*100) / 100) }

func within(err, limit hide.MM2) bool { return math.Abs(float64(err)) <= float64(limit) }

func (p Protocol) addTemplates(out *hide.Proof) {
	for _, t := range p.Templates {
		pt := hide.ProofTemplate{Name: t.Name, Area: t.Area, U: t.U, Source: t.Source}
		var sum, squares float64
		for _, r := range out.Runs {
			if r.Template == t.Name {
				pt.Runs++
				sum += float64(r.Error)
			}
		}
		mean := sum / float64(pt.Runs)
		for _, r := range out.Runs {
			if r.Template == t.Name {
				squares += (float64(r.Error) - mean) * (float64(r.Error) - mean)
			}
		}
		pt.MeanError, pt.SD = hundredth(hide.MM2(mean)), hundredth(hide.MM2(math.Sqrt(squares/float64(pt.Runs-1))))
		out.Templates = append(out.Templates, pt)
	}
}

// judge keeps the worst error and whether all passed.
func judge(out *hide.Proof, what string, err, area, limit hide.MM2) {
	share := math.Abs(float64(err / limit))
	if !within(err, limit) {
		out.Pass = false
	}
	if out.Worst.What == "" || share > out.Worst.Share {
		out.Worst = hide.ProofWorst{What: what, Error: err, Percent: 100 * float64(err/area), Share: share}
	}
}
