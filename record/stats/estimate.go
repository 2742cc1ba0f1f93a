package stats

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"hidechart/hide"
)

// Level is the confidence of every interval: 95 %, what readers take an interval
// to be when nothing is said.
const Level = 0.95

// tQuantile is the two-sided quantile of Student's distribution.
func tQuantile(df float64) float64 {
	return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: df}.Quantile(0.5 + Level/2)
}

// tTwoSided is the two-sided p of a t statistic.
func tTwoSided(t, df float64) float64 {
	return min(1, 2*distuv.StudentsT{Mu: 0, Sigma: 1, Nu: df}.CDF(-math.Abs(t)))
}

// Sums are what a mean and its spread need of a sample.
type Sums struct {
	N     int
	Sum   float64
	SumSq float64
}

// Add takes one more value.
func (s *Sums) Add(v float64) { s.N++; s.Sum += v; s.SumSq += v * v }

// Mean is the mean; zero of an empty sample.
func (s Sums) Mean() float64 {
	if s.N == 0 {
		return 0
	}
	return s.Sum / float64(s.N)
}

// SD is the standard deviation with N−1; zero below two values.
func (s Sums) SD() float64 {
	if s.N < 2 {
		return 0
	}
	n := float64(s.N)
	return math.Sqrt(max(0, (s.SumSq-s.Sum*s.Sum/n)/(n-1)))
}

// MeanEstimate is the mean with Student's interval.
func MeanEstimate(s Sums) hide.Estimate {
	e := hide.Estimate{N: s.N, Value: s.Mean()}
	if s.N < 2 {
		return e
	}
	half := tQuantile(float64(s.N-1)) * s.SD() / math.Sqrt(float64(s.N))
	e.Low, e.High, e.Known = e.Value-half, e.Value+half, true
	return e
}

// Proportion is a share with Wilson's interval (Wilson 1927, "Probable inference,
// the law of succession, and statistical inference", JASA 22:209).
func Proportion(hits, n int) hide.Estimate {
	e := hide.Estimate{N: n}
	if n == 0 {
		return e
	}
	z := distuv.UnitNormal.Quantile(0.5 + Level/2)
	p, m := float64(hits)/float64(n), float64(n)
	mid := (p + z*z/(2*m)) / (1 + z*z/m)
	half := z / (1 + z*z/m) * math.Sqrt(p*(1-p)/m+z*z/(4*m*m))
	e.Value, e.Low, e.High, e.Known = p, max(0, mid-half), min(1, mid+half), true
	return e
}

// Paired tests differences given by their sums and by how many lie above and
// below zero.
func Paired(diff Sums, above, below int) hide.PairedTest {
	out := hide.PairedTest{SignP: SignTest(above, below), P: 1}
	if sd := diff.SD(); diff.N >= 2 && sd > 0 {
		out.DF, out.Known = diff.N-1, true
		out.T = diff.Mean() / (sd / math.Sqrt(float64(diff.N)))
		out.P = tTwoSided(out.T, float64(out.DF))
	}
	return out
}

// SignTest is the exact two-sided binomial p that as uneven a split comes by
// chance.
func SignTest(above, below int) float64 {
	n := above + below
	if n == 0 {
		return 1
	}
	b := distuv.Binomial{N: float64(n), P: 0.5}
	return min(1, 2*b.CDF(float64(min(above, below))))
}

// WithCommon widens the interval of a mean by a standard uncertainty that all values
// share, so that more values do not lessen it (JCGM 100:2008, 5.2: the measurements of
// one table are correlated; here wholly, which is the careful side). u is in the
// unit of the value.
func WithCommon(e hide.Estimate, u float64) hide.Estimate {
	if !e.Known {
		return e
	}
	half := math.Hypot((e.High-e.Low)/2, distuv.UnitNormal.Quantile(0.5+Level/2)*u)
	e.Low, e.High = e.Value-half, e.Value+half
	return e
}
