package yield

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"hidechart/hide"
	"hidechart/plane"
)

// A Cutter kept over a review says what a fresh Cuttable says, after each
// decision: confirmed, rejected, added, changed in kind or shape.
func TestCutterFollowsTheReview(t *testing.T) {
	classic, err := FindLook("classic")
	require.NoError(t, err)
	p := DefaultParams()
	p.Samples = 20
	rapid.Check(t, func(t *rapid.T) {
		chart := inventedHide(t)
		chart.Zones = square().Zones
		k, err := NewCutter(chart, classic, p)
		require.NoError(t, err)
		for range 2 {
			if n := len(chart.Defects); n > 0 {
				d := &chart.Defects[rapid.IntRange(0, n-1).Draw(t, "which")]
				switch rapid.IntRange(0, 3).Draw(t, "what") {
				case 0:
					d.Status = hide.Confirmed
				case 1:
					d.Status = hide.Rejected
				case 2:
					d.Kind = rapid.SampledFrom(hide.Kinds()).Draw(t, "kind")
				default:
					d.Geometry = plane.Mapped(d.Geometry, func(q hide.Point) hide.Point { return at(float64(q.X)+7, float64(q.Y)-3) })
				}
			}
			kept, err := k.Cut(chart)
			require.NoError(t, err)
			fresh, err := Cuttable(chart, classic, p)
			require.NoError(t, err)
			kept.cutter, fresh.cutter = nil, nil
			require.Equal(t, fresh, kept)
		}
	})
}

// The atoms are a partition: their areas sum to GEOS's union of the flaws, and
// each flaw's atoms to the flaw.
func TestAtomsPartitionTheFlaws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		chart := inventedHide(t)
		l := plain()
		l.Margin = 4
		c, err := Cuttable(chart, l, Params{Samples: 10, Likely: 0.5})
		require.NoError(t, err)
		var all []hide.Shape
		sum := 0.0
		for _, f := range c.flaws {
			all = append(all, f.onHide)
		}
		for _, a := range c.atoms {
			sum += a.area
		}
		union := hide.Shape(nil)
		if all != nil {
			union, err = plane.Union(all...)
			require.NoError(t, err)
		}
		require.InDelta(t, float64(union.Area()), sum, 0.01, "mm²: rounding of vertices")
		for i, f := range c.flaws {
			of := 0.0
			for _, a := range c.atoms {
				for _, m := range a.members {
					if m == i {
						of += a.area
					}
				}
			}
			require.InDelta(t, float64(f.onHide.Area()), of, 0.01)
		}
	})
}

// Area of the hide by zone is that of GEOS's intersection.
func TestZonesAgainstGEOS(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		chart := inventedHide(t)
		chart.Zones = []hide.ZoneShape{{Zone: hide.Neck, Geometry: hide.Shape{{Outer: rect(0, 0, 900, 2000)}}}, {Zone: hide.Butt, Geometry: hide.Shape{{Outer: rect(900, 0, 2000, 2000)}}}}
		c, err := Cuttable(chart, plain(), Params{Samples: 10, Likely: 0.5})
		require.NoError(t, err)
		for i, z := range chart.Zones {
			in, err := plane.Intersection(c.Region, z.Geometry)
			require.NoError(t, err)
			require.InDelta(t, float64(in.Area()), float64(c.Zones[i].Cuttable), 0.01)
		}
	})
}

// wornHide is a hide of 4 m² with 300 candidates in a ragged outline, more than
// any capture so far has had, many of them on one another.
func wornHide() hide.Chart {
	outer := make(hide.Ring, 2000)
	for i := range outer {
		a := 2 * math.Pi * float64(i) / float64(len(outer))
		r := 1 + 0.05*math.Sin(9*a) + 0.01*math.Sin(131*a)
		outer[i] = at(1200+1200*r*math.Cos(a), 1000+1000*r*math.Sin(a))
	}
	c := hide.Chart{Format: hide.Format, Outline: hide.Polygon{Outer: outer}}
	c.Area = hide.Area{Value: c.Outline.Area(), U: 2e4}
	c.Zones = []hide.ZoneShape{{Zone: hide.Neck, Geometry: hide.Shape{{Outer: rect(0, 0, 900, 2000)}}}, {Zone: hide.Butt, Geometry: hide.Shape{{Outer: rect(900, 0, 2400, 2000)}}}}
	for i := range 300 {
		a := 2.4 * float64(i)
		x, y := 1200+60*math.Sqrt(float64(i))*math.Cos(a), 1000+52*math.Sqrt(float64(i))*math.Sin(a)
		line := []hide.Point{at(x-40, y), at(x, y+9*math.Sin(float64(i))), at(x+45, y+20*math.Cos(float64(i)))}
		s, err := plane.RibbonFrom(line, 3)
		if err != nil {
			panic(err) // a ribbon of three points
		}
		d := candidate(i+1, hide.Kinds()[i%12], 0.05+0.9*float64(i%19)/18, s[0].Outer)
		c.Defects = append(c.Defects, d)
	}
	return c
}

// Issue 6: the review page's redraw within 200 ms at every decision. Only reported:
// no timed tests.
func BenchmarkDecision(b *testing.B) {
	chart := wornHide()
	look, err := FindLook("classic")
	if err != nil {
		b.Fatal(err)
	}
	start := time.Now()
	k, err := NewCutter(chart, look, DefaultParams())
	if err != nil {
		b.Fatal(err)
	}
	if _, err = k.Cut(chart); err != nil {
		b.Fatal(err)
	}
	first := time.Since(start)
	b.ReportAllocs()
	for i := 0; b.Loop(); i++ {
		d := &chart.Defects[(7*i)%len(chart.Defects)]
		d.Status = []hide.Status{hide.Confirmed, hide.Rejected}[i%2]
		if _, err := k.Cut(chart); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(first.Milliseconds()), "ms/first")
}
