package stats

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"

	"hidechart/hide"
)

// drawCount is a count with the dispersion phi.
func drawCount(rng *rand.Rand, mean, phi float64) float64 {
	if phi > 0 {
		mean *= distuv.Gamma{Alpha: 1 / phi, Beta: 1 / phi, Src: rng}.Rand()
	}
	return distuv.Poisson{Lambda: mean, Src: rng}.Rand()
}

// An interval of 95 % holds the truth in 95 of 100 samples: at least 92 are asked for with
// 30 hides (the method of moments falls a little short on skewed counts), and 90 with eight.
func TestRateIntervalsHoldTheTruth(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	for _, x := range []struct {
		hides        int
		phi, atLeast float64
	}{{30, 0, 0.93}, {30, 0.4, 0.92}, {8, 0, 0.93}, {8, 0.5, 0.90}, {3, 0.5, 0.90}} {
		hit := 0
		const trials = 1500
		for range trials {
			var c Counts
			for range x.hides {
				a := 1.5 + 4*rng.Float64()
				c.Add(drawCount(rng, 0.9*a, x.phi), a)
			}
			if r := Rate(c); r.Low <= 0.9 && 0.9 <= r.High {
				hit++
			}
		}
		assert.GreaterOrEqual(t, float64(hit)/trials, x.atLeast, "%+v", x)
	}
}

// Suppliers that are alike are told apart in at most 5 of 100 seasons, whatever their number
// of lots, though hides and lots differ: four suppliers, six comparisons at once. 1.5 points
// are allowed for the draw of 600 seasons.
func TestNoFalseRanking(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 8))
	for _, lots := range []int{2, 3, 6} {
		wrong := 0
		const trials = 600
		for range trials {
			var groups []Group
			for g := range 4 {
				group := Group{Name: string(rune('a' + g))}
				for range lots {
					level := math.Exp(0.25 * rng.NormFloat64())
					n, a := 0.0, 0.0
					for range 10 {
						area := 2 + 2*rng.Float64()
						n, a = n+drawCount(rng, 3*level*area, 0.3), a+area
					}
					group.Lots.Add(n, a)
				}
				groups = append(groups, group)
			}
			list := Pairs(groups, "")
			family := make([]*hide.Comparison, len(list))
			for i := range list {
				family[i] = &list[i]
			}
			Correct(family)
			for _, c := range list {
				if c.Differ {
					wrong++
					break
				}
			}
		}
		assert.LessOrEqual(t, float64(wrong)/trials, 0.065, "%d lots each", lots)
	}
}

func TestTooLittleSaysNothing(t *testing.T) {
	one := Counts{}
	one.Add(40, 20)
	two := Counts{}
	two.Add(4, 20)
	two.Add(6, 20)
	c := Pairs([]Group{{"a", one}, {"b", two}}, "")[0]
	assert.NotEmpty(t, c.Reason)
	assert.False(t, MeanEstimate(Sums{N: 1, Sum: 3, SumSq: 9}).Known)
	var few Counts
	few.Add(3, 3)
	few.Add(9, 3)
	r := Rate(few)
	assert.Greater(t, r.High/r.Low, 10.0, "two hides: an interval of more than a factor of ten")
	none := Rate(Counts{Units: 5, A: 10, A2: 20})
	assert.InDelta(t, -math.Log(0.025)/10, none.High, 1e-9) // exact: P(0) = exp(−10·u) = 2.5 %
}

// randomMap puts k marks on each hide, a share of them at one place.
func randomMap(rng *rand.Rand, o hide.HalfWidths, hides, k int, atPlace float64) (KindMap, []Mark) {
	m := KindMap{Kind: hide.Scratch, Times: map[int]int{}}
	shares := Shares(o)
	var marks []Mark
	for h := range hides {
		n := rng.IntN(2*k + 1)
		seen := map[int]bool{}
		put := func(u, v float64) {
			c := Cell(u, v)
			m.Marks[c]++
			if !seen[c] {
				m.Hides[c]++
				seen[c] = true
			}
			marks = append(marks, Mark{h, u, v})
		}
		for range n {
			at, c := rng.Float64(), 0
			for ; c < Cells-1 && at > shares[c]; c++ {
				at -= shares[c]
			}
			u, v := CellCentre(c)
			put(u+(rng.Float64()-.5)/GridU, v+(rng.Float64()-.5)*2/GridV)
		}
		if rng.Float64() < atPlace {
			n++
			put(0.53+0.008*rng.NormFloat64(), 0.42+0.01*rng.NormFloat64())
		}
		m.Times[n]++
	}
	return m, marks
}

// Chance puts no place on the map in at least 95 of 100 groups; a place on a third of
// the hides is found.
func TestPlaces(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 10))
	o := Even(false)
	wrong := 0
	const trials = 300
	for range trials {
		m, _ := randomMap(rng, o, 40, 4, 0)
		if len(Places([]KindMap{m}, o)) > 0 {
			wrong++
		}
	}
	assert.LessOrEqual(t, float64(wrong)/trials, 0.05)
	m, _ := randomMap(rng, o, 40, 4, 0.33)
	found := Places([]KindMap{m}, o)
	require.NotEmpty(t, found)
	assert.InDelta(t, 0.53, found[0].U, 0.06)
	assert.InDelta(t, 0.42, found[0].V, 0.12)
}

// The same for one lot of ten hides: seven of ten at one place are found and named, with
// their hides; chance alone is taken for a fault in at most 5 of 100 lots (Monte Carlo p below
// 0.05; here 2.5 points more are allowed for the draw of 120 lots); and what other lots show at the same place is no
// finding.
func TestRepeats(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 12))
	o := Even(false)
	even := Background([Cells]int{}, o)
	wrong, hit := 0, 0
	const trials = 120
	for range trials {
		_, marks := randomMap(rng, o, 10, 4, 0)
		if len(Repeats(marks, even, o, 0.05)) > 0 {
			wrong++
		}
	}
	assert.LessOrEqual(t, float64(wrong)/trials, 0.075)
	for range 20 {
		_, marks := randomMap(rng, o, 10, 4, 0.7)
		if found := Repeats(marks, even, o, 0.05/12); len(found) == 1 && math.Abs(found[0].U-0.53) < 0.02 && math.Abs(found[0].V-0.42) < 0.05 {
			hit++
			assert.GreaterOrEqual(t, len(found[0].Hides), 4)
		}
	}
	assert.GreaterOrEqual(t, hit, 16)
	// a farm's brand: on every hide of the other lots as well
	others, _ := randomMap(rng, o, 60, 1, 0.7)
	_, marks := randomMap(rng, o, 10, 1, 0.7)
	assert.Empty(t, Repeats(marks, Background(others.Marks, o), o, 0.05/12))
}

func TestSharesOfTheOutline(t *testing.T) {
	o := hide.HalfWidths{Right: []float64{0.2, 0.6}, Left: []float64{0.4, 0.4}}
	sum, left := 0.0, 0.0
	for c, s := range Shares(o) {
		sum += s
		if _, v := CellCentre(c); v < 0 {
			left += s
		}
	}
	assert.InDelta(t, 1, sum, 1e-12)
	assert.InDelta(t, 0.5, left, 1e-12) // a trapezium of mean width 0.4 beside a rectangle of 0.4
	for _, x := range [][2]float64{{0, -1}, {1, 1}, {0.5, 0}, {-3, 7}} {
		c := Cell(x[0], x[1])
		assert.True(t, c >= 0 && c < Cells)
	}
	for c := range Cells {
		u, v := CellCentre(c)
		assert.Equal(t, c, Cell(u, v))
	}
}
