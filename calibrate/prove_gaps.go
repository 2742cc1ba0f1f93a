package calibrate

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"hidechart/hide"
	"hidechart/plane"
)

// samePlace is the share of a template's area that two runs may have in common
// before they count as one position: a square of 1 m moved by 20 mm keeps 98 %.
const samePlace = 0.98

// gaps lists what the test lacks, in the protocol's order.
func (p Protocol) gaps(charts map[string]ProofChart) ([]string, error) {
	gaps := p.missingCharts(charts)
	gaps = append(gaps, p.missingEnds()...)
	for _, t := range p.Templates {
		more, err := p.missingRuns(t, charts)
		if err != nil {
			return nil, err
		}
		gaps = append(gaps, more...)
	}
	return append(gaps, p.missingSums(charts)...), nil
}

func (p Protocol) missingCharts(charts map[string]ProofChart) []string {
	missing := map[string]bool{}
	for _, r := range p.all() {
		if _, ok := charts[r.Chart]; !ok {
			missing[r.Chart] = true
		}
	}
	var gaps []string
	for _, name := range slices.Sorted(maps.Keys(missing)) {
		gaps = append(gaps, fmt.Sprintf("chart %s is missing", name))
	}
	return gaps
}

// missingEnds wants a template near each end of the range.
func (p Protocol) missingEnds() []string {
	var low, high bool
	near := (p.Range[1] - p.Range[0]) * nearEnd
	for _, t := range p.Templates {
		low = low || t.Area <= p.Range[0]+near
		high = high || t.Area >= p.Range[1]-near
	}
	var gaps []string
	if !low {
		gaps = append(gaps, fmt.Sprintf("no template near the lower end of the range (up to %.0f dm²)", (p.Range[0]+near).DM2()))
	}
	if !high {
		gaps = append(gaps, fmt.Sprintf("no template near the upper end of the range (from %.0f dm²)", (p.Range[1]-near).DM2()))
	}
	return gaps
}

// missingRuns counts a template's runs: each from a photograph of its own, in
// a position of its own by name and by where the outline lies.
func (p Protocol) missingRuns(t Template, charts map[string]ProofChart) ([]string, error) {
	var gaps []string
	var good []ProtocolRun
	for _, r := range p.Runs {
		c, ok := charts[r.Chart]
		if r.Template != t.Name || !ok {
			continue
		}
		twin, why, err := sameRun(r, c, good, charts)
		if err != nil {
			return nil, err
		}
		if why != "" {
			gaps = append(gaps, fmt.Sprintf("template %s: %s (%s) is no run of its own: %s as %s (%s)", t.Name, r.Chart, r.Position, why, twin.Chart, twin.Position))
			continue
		}
		good = append(good, r)
	}
	if n := len(good); n < leastRuns {
		gaps = append(gaps, fmt.Sprintf("template %s: %d of %d runs in different positions, %d missing", t.Name, n, leastRuns, leastRuns-n))
	}
	return gaps, nil
}

// sameRun finds an earlier run that this one repeats, and in what; why is empty
// when there is none.
func sameRun(r ProtocolRun, c ProofChart, earlier []ProtocolRun, charts map[string]ProofChart) (twin ProtocolRun, why string, err error) {
	for _, e := range earlier {
		other := charts[e.Chart]
		common, err := plane.Intersection(hide.Shape{c.Chart.Outline}, hide.Shape{other.Chart.Outline})
		if err != nil {
			return e, "", fmt.Errorf("compare %s with %s: %w", r.Chart, e.Chart, err)
		}
		switch {
		case sharesPhotograph(c.Chart, other.Chart):
			return e, "the same photograph", nil
		case strings.EqualFold(strings.TrimSpace(r.Position), strings.TrimSpace(e.Position)):
			return e, "the same position by name", nil
		case common.Area() > samePlace*max(c.Chart.Outline.Area(), other.Chart.Outline.Area()):
			return e, "the outline lies in the same place", nil
		}
	}
	return ProtocolRun{}, "", nil
}

func sharesPhotograph(a, b hide.Chart) bool {
	for _, x := range a.Capture.Images {
		for _, y := range b.Capture.Images {
			if x.SHA256 == y.SHA256 && x.Light == y.Light {
				return true
			}
		}
	}
	return false
}

// missingSums counts the summation tests: parts from photographs of their own,
// and no two tests from the same charts.
func (p Protocol) missingSums(charts map[string]ProofChart) []string {
	var gaps []string
	seen := map[string]bool{}
	good := 0
	for i, s := range p.Sums {
		var names []string
		twice := ""
		for k, r := range s.Parts {
			for _, e := range s.Parts[:k] {
				if sharesPhotograph(charts[r.Chart].Chart, charts[e.Chart].Chart) || r.Chart == e.Chart {
					twice = r.Chart
				}
			}
			names = append(names, r.Chart)
		}
		slices.Sort(names)
		key := strings.Join(names, "\n")
		switch {
		case twice != "":
			gaps = append(gaps, fmt.Sprintf("sum %d counts one photograph twice (%s)", i+1, twice))
		case seen[key]:
			gaps = append(gaps, fmt.Sprintf("sum %d repeats the charts of another sum", i+1))
		default:
			good++
		}
		seen[key] = true
	}
	if good < leastSums {
		gaps = append(gaps, fmt.Sprintf("summation test: %d of %d times, %d missing", good, leastSums, leastSums-good))
	}
	return gaps
}
