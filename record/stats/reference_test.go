package stats

import (
	"encoding/json"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hidechart/hide"
)

// reference is what testdata/reference.py got from SciPy 1.10.1 and statsmodels 0.13.5.
type reference struct {
	Garwood [][4]float64 `json:"garwood"`
	Wilson  [][4]float64 `json:"wilson"`
	Tail    [][3]float64 `json:"tail"`
	Paired  struct {
		Diff            []float64
		T, P, Low, High float64
		SignP           float64 `json:"sign_p"`
	}
	Holm struct{ P, Adjusted []float64 }
	NB   struct {
		N                    []float64
		A                    float64
		Phi, Rate, Low, High float64
	}
	ML struct {
		N, A                 []float64
		Phi, Rate, Low, High float64
	} `json:"nb_ml"`
	Ratio struct {
		N1, A1, N2, A2 []float64
		Ratio, P, Low  float64
	}
	Kendall struct {
		U []float64
		P float64 `json:"p_exact"`
	}
}

func readReference(t *testing.T) reference {
	t.Helper()
	data, err := os.ReadFile("testdata/reference.json")
	require.NoError(t, err)
	var r reference
	require.NoError(t, json.Unmarshal(data, &r))
	return r
}

// Both compute in double precision; quantiles are found iteratively to about 1e-9.
const precise = 1e-7

func TestAgainstSciPy(t *testing.T) {
	r := readReference(t)
	for _, g := range r.Garwood {
		lo, hi := Garwood(g[0], g[1])
		assert.InDelta(t, g[2], lo, precise)
		assert.InDelta(t, g[3], hi, precise)
	}
	for _, w := range r.Wilson {
		e := Proportion(int(w[0]), int(w[1]))
		assert.InDelta(t, w[2], e.Low, precise)
		assert.InDelta(t, w[3], e.High, precise)
	}
	for _, x := range r.Tail {
		assert.InEpsilon(t, x[2], poissonTail(int(x[0]), x[1]), precise)
	}
	assert.InDeltaSlice(t, r.Holm.Adjusted, Holm(r.Holm.P), precise)
	var s Sums
	above, below := 0, 0
	for _, d := range r.Paired.Diff {
		s.Add(d)
		if d > 0 {
			above++
		} else if d < 0 {
			below++
		}
	}
	test, mean := Paired(s, above, below), MeanEstimate(s)
	assert.InDelta(t, r.Paired.T, test.T, precise)
	assert.InDelta(t, r.Paired.P, test.P, precise)
	assert.InDelta(t, r.Paired.SignP, test.SignP, precise)
	assert.InDelta(t, r.Paired.Low, mean.Low, precise)
	assert.InDelta(t, r.Paired.High, mean.High, precise)
}

func counts(n, a []float64) Counts {
	var c Counts
	for i := range n {
		c.Add(n[i], a[i])
	}
	return c
}

func TestAgainstStatsmodels(t *testing.T) {
	r := readReference(t)
	var c Counts
	for _, n := range r.NB.N {
		c.Add(n, r.NB.A)
	}
	got := Rate(c)
	assert.Equal(t, NegativeBinomial, got.Model)
	assert.InDelta(t, r.NB.Phi, got.Dispersion, precise)
	assert.InDelta(t, r.NB.Rate, got.Value, 1e-6) // the GLM iterates to 1e-8 of its deviance
	assert.InDelta(t, r.NB.Low, got.Low, 1e-5)
	assert.InDelta(t, r.NB.High, got.High, 1e-5)
	// Unequal areas: moments against maximum likelihood on 200 hides. Both estimate the same
	// thing; the standard error of the dispersion is about 15 %, so twice that is allowed,
	// and a fifth for the width of the interval.
	ml := Rate(counts(r.ML.N, r.ML.A))
	assert.InEpsilon(t, r.ML.Phi, ml.Dispersion, 0.3)
	assert.InEpsilon(t, r.ML.Rate, ml.Value, 0.05)
	assert.InEpsilon(t, r.ML.High-r.ML.Low, ml.High-ml.Low, 0.2)
	p := Pairs([]Group{{"a", counts(r.Ratio.N1, r.Ratio.A1)}, {"b", counts(r.Ratio.N2, r.Ratio.A2)}}, "")[0]
	assert.InDelta(t, r.Ratio.Ratio, p.Ratio.Value, precise)
	assert.InDelta(t, r.Ratio.P, p.P, precise)
	assert.InDelta(t, r.Ratio.Low, p.Ratio.Low, precise)
	var points []hide.ControlPoint
	for _, u := range r.Kendall.U {
		points = append(points, hide.ControlPoint{U: u})
	}
	assert.InDelta(t, r.Kendall.P, kendall(points), 0.02, "normal approximation against the exact distribution of ten")
}

// Montgomery, "Introduction to Statistical Quality Control", u chart with variable sample
// size: nonconformities in dyed cloth, ten rolls, per 50 m² (from memory; the limits follow from the
// counts): ū = 153/107.5 = 1.42, limits as printed there to two decimals, no roll outside.
func TestTextbookUChart(t *testing.T) {
	size := []float64{10, 8, 13, 10, 9.5, 10, 12, 10.5, 12, 12.5}
	found := []float64{14, 12, 20, 11, 7, 10, 21, 16, 19, 23}
	upper := []float64{2.55, 2.68, 2.41, 2.55, 2.58, 2.55, 2.45, 2.52, 2.45, 2.43}
	lower := []float64{0.29, 0.16, 0.43, 0.29, 0.26, 0.29, 0.39, 0.32, 0.39, 0.41}
	var lots []LotCount
	for i := range size {
		lots = append(lots, LotCount{N: found[i], Area: size[i]})
	}
	c := UChart(lots, 0)
	assert.InDelta(t, 1.42, c.Centre, 0.005)
	assert.InDelta(t, 1, c.SigmaZ, 1e-9, "the lots spread by less than Poisson's: plain limits")
	for i, p := range c.Points {
		assert.InDelta(t, upper[i], p.High, 0.011) // the book rounds ū first
		assert.InDelta(t, lower[i], p.Low, 0.011)
		assert.False(t, p.Alarm)
	}
}
