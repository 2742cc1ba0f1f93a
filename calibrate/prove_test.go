package calibrate

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hidechart/hide"
)

// proofDay is the day of the invented tests.
func proofDay() time.Time { return time.Date(2026, time.March, 31, 0, 0, 0, 0, time.UTC) }

// squareChart is a chart of a square template at (x, y), measured with an error.
func squareChart(id int, area hide.MM2, x, y float64, err hide.MM2) ProofChart {
	side := hide.MM(0)
	for side*side < hide.MM(area) { // to the millimetre: only its place matters
		side++
	}
	px, py := hide.MM(x), hide.MM(y)
	sha := fmt.Sprintf("%064d", id)
	return ProofChart{SHA256: sha, Chart: hide.Chart{Format: hide.Format,
		Capture: hide.CaptureFacts{Images: []hide.ImageFact{{Light: hide.Top, SHA256: sha}}},
		Area:    hide.Area{Value: area + err, U: hide.FromDM2(0.1)},
		Outline: hide.Polygon{Outer: hide.Ring{{X: px, Y: py}, {X: px + side, Y: py}, {X: px + side, Y: py + side}, {X: px, Y: py + side}}},
		Frame:   hide.Frame{RigSHA256: "rig"}, MadeBy: hide.MadeBy{Version: "1"}}}
}

// wholeTest is a complete test: two templates, five runs each, three sums;
// errors in dm² by run, small ones first.
func wholeTest(errorsDM2 [10]float64) (Protocol, map[string]ProofChart) {
	p := Protocol{Place: "table 1", By: "A. Tester", Months: 12, Limit: hide.ProofLimit{Percent: 1, Least: hide.FromDM2(1)},
		Range: [2]hide.MM2{hide.FromDM2(50), hide.FromDM2(600)},
		Templates: []Template{{Name: "small", Area: hide.FromDM2(60), U: hide.FromDM2(0.02)},
			{Name: "large", Area: hide.FromDM2(560), U: hide.FromDM2(0.2)}}}
	charts := map[string]ProofChart{}
	for i := range 10 {
		t := p.Templates[i/5]
		name := fmt.Sprintf("%s-%d", t.Name, i%5+1)
		charts[name] = squareChart(i+1, t.Area, 100+60*float64(i%5), 80, hide.FromDM2(errorsDM2[i]))
		p.Runs = append(p.Runs, ProtocolRun{Template: t.Name, Position: fmt.Sprintf("place %d", i%5+1), Chart: name})
	}
	for i := range 3 {
		p.Sums = append(p.Sums, ProtocolSum{Parts: []ProtocolRun{{Template: "small", Chart: fmt.Sprintf("small-%d", i+1)},
			{Template: "large", Chart: fmt.Sprintf("large-%d", i+1)}}})
	}
	return p, charts
}

// Worked by hand: limits are max(1 %, 1 dm²) (shared/facts.md [M]): 1.0 dm² for
// 60 dm², 5.6 for 560, 6.2 for their sum of 620.
func TestProveWorkedExample(t *testing.T) {
	p, charts := wholeTest([10]float64{0.1, -0.2, 0.3, -0.9, 0.2, 1, 2, -3, 4, -5})
	proof, err := Prove(p, charts, proofDay())
	require.NoError(t, err)
	require.True(t, proof.Pass)
	require.Len(t, proof.Runs, 10)
	require.InDelta(t, 1.0, proof.Runs[0].Limit.DM2(), 1e-9)
	require.InDelta(t, 5.6, proof.Runs[5].Limit.DM2(), 1e-9)
	require.InDelta(t, 6.2, proof.Sums[0].Limit.DM2(), 1e-9)
	require.InDelta(t, 1.1, proof.Sums[0].Error.DM2(), 1e-9)
	require.InDelta(t, -2.7, proof.Sums[2].Error.DM2(), 1e-9)
	require.Equal(t, "small, place 4", proof.Worst.What) // 0.9 of 1.0, against 5.0 of 5.6
	require.InDelta(t, 0.9, proof.Worst.Share, 1e-9)
	require.InDelta(t, -1.5, proof.Worst.Percent, 1e-9)
	require.InDelta(t, -0.1, proof.Templates[0].MeanError.DM2(), 1e-9)
	require.InDelta(t, 0.484768, proof.Templates[0].SD.DM2(), 1e-6) // sqrt(0.94/4)
	require.Equal(t, [2]int{3, 10}, proof.Within2U)                 // by 2·hypot(0.1, 0.02) = 0.204 dm²: 0.1, −0.2 and 0.2
	require.Equal(t, "2026-03-31", proof.Date)
	require.Equal(t, "2027-03-31", proof.Due)
}

// One error beyond its limit fails the whole; on the limit passes.
func TestProveFails(t *testing.T) {
	p, charts := wholeTest([10]float64{1.01})
	proof, err := Prove(p, charts, proofDay())
	require.NoError(t, err)
	require.False(t, proof.Pass)
	require.False(t, proof.Runs[0].Pass)
	p, charts = wholeTest([10]float64{1})
	proof, err = Prove(p, charts, proofDay())
	require.NoError(t, err)
	require.True(t, proof.Pass)
	p, charts = wholeTest([10]float64{0.9, 0, 0, 0, 0, 5.5}) // each run passes, their sum is 6.4 of 6.2
	proof, err = Prove(p, charts, proofDay())
	require.NoError(t, err)
	require.True(t, proof.Runs[0].Pass && proof.Runs[5].Pass)
	require.False(t, proof.Sums[0].Pass)
	require.False(t, proof.Pass)
}

// Every gap is named (Dz.U.2008.4.26 § 10 by shared/facts.md: five runs per
// template in different positions, both ends of the range, three sums).
func TestProveRefusesGaps(t *testing.T) {
	for name, c := range map[string]struct {
		spoil func(p *Protocol, charts map[string]ProofChart)
		want  string
	}{
		"a run short": {func(p *Protocol, _ map[string]ProofChart) { p.Runs = p.Runs[1:] }, "template small: 4 of 5 runs in different positions, 1 missing"},
		"no runs":     {func(p *Protocol, _ map[string]ProofChart) { p.Runs = p.Runs[:5] }, "template large: 0 of 5 runs in different positions, 5 missing"},
		"chart gone":  {func(_ *Protocol, charts map[string]ProofChart) { delete(charts, "large-3") }, "chart large-3 is missing"},
		"same photograph": {func(_ *Protocol, charts map[string]ProofChart) {
			twin := charts["small-2"]
			twin.Chart.Capture = charts["small-1"].Chart.Capture
			charts["small-2"] = twin
		}, "small-2 (place 2) is no run of its own: the same photograph as small-1"},
		"not moved": {func(_ *Protocol, charts map[string]ProofChart) {
			twin := charts["small-2"]
			twin.Chart.Outline = charts["small-1"].Chart.Outline
			charts["small-2"] = twin
		}, "the outline lies in the same place as small-1"},
		"same name":    {func(p *Protocol, _ map[string]ProofChart) { p.Runs[1].Position = "Place 1 " }, "the same position by name"},
		"a sum short":  {func(p *Protocol, _ map[string]ProofChart) { p.Sums = p.Sums[:2] }, "summation test: 2 of 3 times, 1 missing"},
		"sum repeated": {func(p *Protocol, _ map[string]ProofChart) { p.Sums[2] = p.Sums[0] }, "sum 3 repeats the charts of another sum"},
		"sum of one photograph": {func(p *Protocol, _ map[string]ProofChart) { p.Sums[0].Parts[1] = p.Sums[0].Parts[0] },
			"sum 1 counts one photograph twice"},
		"upper end": {func(p *Protocol, _ map[string]ProofChart) { p.Range[1] = hide.FromDM2(900) }, "no template near the upper end of the range (from 730 dm²)"},
		"lower end": {func(p *Protocol, _ map[string]ProofChart) {
			p.Templates = p.Templates[1:]
			p.Runs = p.Runs[5:]
			p.Sums = nil
		}, "no template near the lower end"},
	} {
		t.Run(name, func(t *testing.T) {
			p, charts := wholeTest([10]float64{})
			c.spoil(&p, charts)
			_, err := Prove(p, charts, proofDay())
			require.ErrorIs(t, err, hide.Invalid)
			require.ErrorContains(t, err, "not certified")
			require.ErrorContains(t, err, c.want)
		})
	}
}

// Charts of two tables or two settings prove neither.
func TestProveRefusesMixedCharts(t *testing.T) {
	for _, spoil := range []func(c *hide.Chart){
		func(c *hide.Chart) { c.Frame.RigSHA256 = "other" },
		func(c *hide.Chart) { c.MadeBy.SettingsSHA256 = "other" },
		func(c *hide.Chart) { c.Frame.LensSHA256 = "other" },
	} {
		p, charts := wholeTest([10]float64{})
		c := charts["large-5"]
		spoil(&c.Chart)
		charts["large-5"] = c
		_, err := Prove(p, charts, proofDay())
		require.ErrorIs(t, err, hide.Conflict)
	}
}

// Templates have an id and a substance each in capture.yaml, which count into the
// settings' hash: charts that hold their settings are compared by those.
func TestProveTakesTemplatesWithNotesOfTheirOwn(t *testing.T) {
	p, charts := wholeTest([10]float64{})
	for name, c := range charts {
		c.Chart.MadeBy.SettingsSHA256 = "of " + name
		c.Chart.MadeBy.Settings = map[string]any{"margin": 40.0, "calibrate": map[string]any{"few_tags": 8.0}}
		charts[name] = c
	}
	_, err := Prove(p, charts, proofDay())
	require.NoError(t, err)
	c := charts["large-5"]
	c.Chart.MadeBy.Settings = map[string]any{"margin": 50.0, "calibrate": map[string]any{"few_tags": 8.0}}
	charts["large-5"] = c
	_, err = Prove(p, charts, proofDay())
	require.ErrorIs(t, err, hide.Conflict)
}

const goodProtocol = `
place: table 1
by: A. Tester
range_dm2: [50, 600]
templates:
  - {name: small, area_dm2: 60, u_dm2: 0.02, source: certificate 17}
runs:
  - {template: small, position: near left, chart: a.json}
sums:
  - parts: [{template: small, chart: a.json}, {template: small, chart: b.json}]
`

func TestParseProtocol(t *testing.T) {
	p, err := ParseProtocol([]byte(goodProtocol))
	require.NoError(t, err)
	require.Equal(t, 12, p.Months)
	require.InDelta(t, 1.0, p.Limit.Percent, 0)
	require.InDelta(t, 1.0, p.Limit.Least.DM2(), 1e-12)
	require.InDelta(t, 60, p.Templates[0].Area.DM2(), 1e-12)
	require.Equal(t, []string{"a.json", "b.json"}, p.Charts())
}

func TestParseProtocolRefuses(t *testing.T) {
	for text, want := range map[string]string{
		"": "empty", "speed: 1": `unknown key "speed"`,
		"place: x\nrange_dm2: [5, 2]":                                                                                   "range_dm2",
		"range_dm2: [5, 9]":                                                                                             "place",
		"place: x\nrange_dm2: [5, 9]\nlimit_percent: 50":                                                                "limit_percent",
		"place: x\nrange_dm2: [5, 9]\nlimit_percent: .nan":                                                              "limit_percent",
		"place: x\nrange_dm2: [5, 9]\ninterval_months: 0":                                                               "interval_months",
		"place: x\nrange_dm2: [5, 9]\ntemplates: [{name: a, area_dm2: 6}]":                                              "u_dm2",
		"place: x\nrange_dm2: [5, 9]\ntemplates: [{name: a, area_dm2: 6, u_dm2: 0.5}]":                                  "too unsure",
		"place: x\nrange_dm2: [5, 9]\nruns: [{template: a, position: p, chart: c}]":                                     `no template "a"`,
		"place: x\nrange_dm2: [5, 9]\ntemplates: [{name: a, area_dm2: 6, u_dm2: 0.1}]\nsums: [{}]":                      "two parts",
		"place: x\nrange_dm2: [5, 9]\ntemplates: [{name: a, area_dm2: 6, u_dm2: 0.1}]\nruns: [{template: a, chart: c}]": "position",
	} {
		_, err := ParseProtocol([]byte(text))
		require.ErrorIs(t, err, hide.Invalid)
		require.ErrorContains(t, err, want)
	}
}

// Months later is never past the month meant.
func TestMonthsLater(t *testing.T) {
	for _, c := range [][2]string{{"2026-01-31", "2026-02-28"}, {"2027-12-31", "2028-01-31"}, {"2028-01-30", "2028-02-29"}, {"2026-05-15", "2026-06-15"}} {
		day, err := time.Parse(time.DateOnly, c[0])
		require.NoError(t, err)
		require.Equal(t, c[1], monthsLater(day, 1).Format(time.DateOnly))
	}
}

func FuzzParseProtocol(f *testing.F) {
	f.Add([]byte(goodProtocol))
	f.Fuzz(func(t *testing.T, data []byte) {
		p, err := ParseProtocol(data)
		if err != nil {
			require.ErrorIs(t, err, hide.Invalid)
			return
		}
		_, err = Prove(p, nil, proofDay()) // no charts: never a certificate, never a panic
		require.Error(t, err)
	})
}
