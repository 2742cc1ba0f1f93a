package yield

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"

	"hidechart/hide"
)

// Analytic: a square with a strip, a hole in the outline with its margin, a
// square flaw with rounded margin.
func TestCuttableIsExact(t *testing.T) {
	chart := square()
	hole := disc(500, 500, 20, 256)
	chart.Outline.Holes = []hide.Ring{hole}
	h := candidate(1, hide.Hole, 1, hole)
	s := candidate(2, hide.Stain, 1, rect(700, 700, 740, 730))
	h.Status, s.Status = hide.Confirmed, hide.Added
	chart.Defects = []hide.Defect{h, s}
	l := plain()
	l.EdgeStrip, l.Margin = 10, 8
	cut, err := Cuttable(chart, l, DefaultParams())
	require.NoError(t, err)
	want := 980*980 - math.Pi*28*28 - (40*30 + 2*8*(40+30) + math.Pi*8*8)
	require.InDelta(t, want, float64(cut.Area), 3, "chords of the circles: 0.06 %% of 2,700 mm²")
	require.Equal(t, Range{Median: cut.Share, P10: cut.Share, P90: cut.Share}, cut.CuttableShare, "nothing is uncertain")
	require.Equal(t, hide.Neck, cut.Zones[0].Zone)
	require.InDelta(t, 240*980, float64(cut.Zones[0].Cuttable), 1e-6)
	require.InDelta(t, float64(cut.Area), float64(cut.Zones[0].Cuttable+cut.Zones[1].Cuttable), 1e-3)
	require.Empty(t, cut.LookFirst)
}

func fresh(n int, p float64, size float64) hide.Chart {
	chart := square()
	for i := range n {
		x, y := float64(i%10)*100, float64(i/10)*100
		chart.Defects = append(chart.Defects, candidate(i+1, hide.Scar, p, rect(x, y, x+size, y+size)))
	}
	return chart
}

// Without correlation the number of real flaws is binomial; all alike and
// fully correlated it is all or none (both from the definition of the copula).
func TestRangeAgainstKnownDistributions(t *testing.T) {
	const n, size = 60, 50
	p := DefaultParams()
	p.Correlation, p.Samples = 0, 4000
	cut, err := Cuttable(fresh(n, 0.4, size), plain(), p)
	require.NoError(t, err)
	b := distuv.Binomial{N: n, P: 0.4}
	quantile := func(q float64) float64 { // smallest k with CDF >= q
		k := 0.0
		for b.CDF(k) < q {
			k++
		}
		return k
	}
	lost := func(share float64) float64 { return (1 - share) * 1e6 / (size * size) }
	require.InDelta(t, quantile(0.5), lost(cut.CuttableShare.Median), 1.01)
	require.InDelta(t, quantile(0.9), lost(cut.CuttableShare.P10), 1.01)
	require.InDelta(t, quantile(0.1), lost(cut.CuttableShare.P90), 1.01)

	p.Correlation = 1
	cut, err = Cuttable(fresh(n, 0.4, size), plain(), p)
	require.NoError(t, err)
	require.InDelta(t, n, lost(cut.CuttableShare.P10), 1e-6)
	require.InDelta(t, 0, lost(cut.CuttableShare.P90), 1e-6)
}

// Two forbidden candidates at even odds: the chance that neither is real is
// 1/4 + asin(ρ)/2π (Sheppard 1899, the orthant probability of the normal).
func TestCorrelationIsThatOfTheModel(t *testing.T) {
	p := DefaultParams()
	p.Samples = 40000
	l := plain()
	l.Kinds[hide.Scar] = []Clause{{Rule: Forbidden}}
	for _, rho := range []float64{0, 0.3, 0.8} {
		p.Correlation = rho
		cut, err := Cuttable(fresh(2, 0.5, 50), l, p)
		require.NoError(t, err)
		require.InDelta(t, 0.75-math.Asin(rho)/(2*math.Pi), cut.RefusedChance, 0.01, "4 standard errors of a share of 40,000")
		require.Equal(t, []int{1, 2}, cut.Refused)
	}
}

// Overlapping flaws are not taken off twice, and what a review can win is
// the area that the flaw alone removes.
func TestOverlapsByInclusion(t *testing.T) {
	chart := square()
	chart.Defects = []hide.Defect{
		candidate(1, hide.Scar, 0.5, rect(100, 100, 300, 200)),
		candidate(2, hide.Stain, 0.9, rect(200, 100, 400, 200)), // shares 10,000 mm² with 1
		candidate(3, hide.Wart, 0.999, rect(800, 800, 810, 810)),
	}
	p := DefaultParams()
	p.Samples = 20000
	cut, err := Cuttable(chart, plain(), p)
	require.NoError(t, err)
	require.InDelta(t, 1e6-30000-100, float64(cut.Area), 1e-6, "all at least as likely as not")
	byID := map[int]Worth{}
	for _, w := range cut.LookFirst {
		byID[w.ID] = w
	}
	// alone, 1 removes 10,000 for sure and the shared 10,000 when 2 is not real
	require.InDelta(t, 10000+10000*0.1, float64(byID[1].Gained), 100)
	require.InDelta(t, 10000+10000*0.5, float64(byID[2].Gained), 150)
	require.InDelta(t, 2*0.5*0.5*float64(byID[1].Gained), float64(byID[1].Moves), 1e-6)
	require.Equal(t, 1, cut.LookFirst[0].ID, "0.5·11,000 before 0.18·15,000")
	require.Equal(t, 3, cut.LookFirst[2].ID)
}

// The range holds the value that the review leads to more often than not, and
// closes up on it: with everything decided it is that value.
func TestReviewClosesTheRange(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		chart := inventedHide(t)
		chart.Area.U = 0
		p := DefaultParams()
		p.Samples = 100
		before, err := Cuttable(chart, plain(), p)
		require.NoError(t, err)
		require.LessOrEqual(t, before.CuttableShare.P10, before.CuttableShare.Median)
		require.LessOrEqual(t, before.CuttableShare.Median, before.CuttableShare.P90)
		for i := range chart.Defects {
			if d := &chart.Defects[i]; d.Status == hide.Candidate {
				d.Status = rapid.SampledFrom([]hide.Status{hide.Confirmed, hide.Rejected}).Draw(t, "decision")
			}
		}
		after, err := Cuttable(chart, plain(), p)
		require.NoError(t, err)
		decided := map[int]float64{}
		for _, d := range chart.Defects {
			decided[d.ID] = map[hide.Status]float64{hide.Confirmed: 1, hide.Added: 1}[d.Status]
		}
		quick := before.Revised(decided)
		require.InDelta(t, after.Share, quick.CuttableShare.Median, 1e-6, "polygons; a region may be put on a grid of 1e-4 mm (plane), 0.2 mm² along 2 m of edge of 0.28 m²")
		require.InDelta(t, quick.CuttableShare.P10, quick.CuttableShare.P90, 1e-12)
		require.Empty(t, quick.LookFirst)
		require.InDelta(t, after.Share, after.CuttableShare.P10, 1e-12)
		require.InDelta(t, after.Share, after.CuttableShare.P90, 1e-12)
	})
}

// Measured area: median ± 1.2816 u are the 10 and 90 % points of the normal.
func TestAreaUncertaintyEntersTheArea(t *testing.T) {
	chart := square()
	chart.Area.U = 5000
	p := DefaultParams()
	p.Samples = 20000
	cut, err := Cuttable(chart, plain(), p)
	require.NoError(t, err)
	require.InDelta(t, 1e6-1.2816*5000, cut.HideMM2.P10, 1)
	require.InDelta(t, 1e6-1.2816*5000, cut.CuttableMM2.P10, 200)
	require.InDelta(t, 1, cut.CuttableShare.P10, 1e-12)
}

func TestCuttableRefuses(t *testing.T) {
	_, err := Cuttable(hide.Chart{}, plain(), DefaultParams())
	require.ErrorContains(t, err, "no outline")
	_, err = Cuttable(square(), plain(), Params{})
	require.ErrorContains(t, err, "samples")
	bad := square()
	bad.Defects = []hide.Defect{candidate(4, hide.Scar, math.NaN(), rect(1, 1, 9, 9))}
	_, err = Cuttable(bad, plain(), DefaultParams())
	require.ErrorContains(t, err, "defect 4")
}

// facts.md: 80–85 % cuttable is a good hide, above that an outstanding one
// (common practice, no source).
func TestBandWord(t *testing.T) {
	for share, want := range map[float64]string{0.79: "below good", 0.80: "good", 0.85: "good", 0.851: "outstanding"} {
		require.Equal(t, want, BandWord(share))
	}
}

func ExampleCuttable() {
	chart := hide.Chart{Outline: hide.Polygon{Outer: rect(0, 0, 1000, 1000)}}
	chart.Defects = []hide.Defect{candidate(1, hide.Hole, 0.8, rect(400, 400, 600, 600))}
	look, _ := FindLook("classic")
	cut, _ := Cuttable(chart, look, DefaultParams())
	r := cut.CuttableShare
	fmt.Printf("%.1f %% cuttable, %s; 10–90 %%: %.1f–%.1f\n", 100*cut.Share, BandWord(cut.Share), 100*r.P10, 100*r.P90)
	fmt.Println("look first at", cut.LookFirst[0].ID)
	// Output:
	// 91.4 % cuttable, outstanding; 10–90 %: 91.4–96.0
	// look first at 1
}

func BenchmarkCuttable(b *testing.B) {
	chart := fresh(100, 0.4, 60)
	for i := range chart.Defects {
		chart.Defects[i].Kind = hide.Kinds()[i%12]
	}
	look, _ := FindLook("classic")
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Cuttable(chart, look, DefaultParams()); err != nil {
			b.Fatal(err)
		}
	}
}
