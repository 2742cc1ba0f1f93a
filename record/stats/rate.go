package stats

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"hidechart/hide"
)

// Counts are the sums that a rate of flaws per area needs of a group of units
// (hides, or lots): unit i has n_i flaws on the area a_i.
type Counts struct {
	Units int
	N     float64 // Σ n
	N2    float64 // Σ n²
	NA    float64 // Σ n·a
	A     float64 // Σ a
	A2    float64 // Σ a²
}

// Add takes one more unit.
func (c *Counts) Add(n, a float64) {
	c.Units++
	c.N, c.N2, c.NA, c.A, c.A2 = c.N+n, c.N2+n*n, c.NA+n*a, c.A+a, c.A2+a*a
}

// The models of Rate.
const (
	Poisson          = "poisson"
	NegativeBinomial = "negative binomial"
)

// Rate estimates Σn/Σa. Flaws come in bunches, so hides differ by more than Poisson
// counts would: φ of the negative binomial's Var n = μ + φμ² is found by moments,
//
//	φ = (Σ(n−μ)² · k/(k−1) − Σμ) / Σμ²,  μ_i = r·a_i
//
// (method of moments: Breslow 1984, "Extra-Poisson variation in log-linear models",
// Appl. Statist. 33:38, here with one parameter). Then Var r = r/A + φ r² Σa²/A², and
// the interval is r·exp(±t·se/r) with k−1 degrees of freedom. φ that is not above 0
// leaves Garwood's exact Poisson interval (1936, Biometrika 28:437). The interval is
// never narrower than that one at either end.
func Rate(c Counts) hide.RateEstimate {
	out := hide.RateEstimate{Estimate: hide.Estimate{N: c.Units}, Model: Poisson}
	if c.Units == 0 || c.A <= 0 {
		return out
	}
	r := c.N / c.A
	out.Value, out.Known = r, true
	out.Low, out.High = Garwood(c.N, c.A)
	out.Dispersion = Dispersion(c)
	if out.Dispersion <= 0 {
		return out
	}
	out.Model = NegativeBinomial
	se := math.Sqrt(r/c.A + out.Dispersion*r*r*c.A2/(c.A*c.A))
	f := math.Exp(tQuantile(float64(c.Units-1)) * se / r)
	out.Low, out.High = min(out.Low, r/f), max(out.High, r*f)
	return out
}

// Dispersion is φ by moments, see Rate; 0 where the counts vary by no more
// than Poisson's, or below two units.
func Dispersion(c Counts) float64 {
	if c.Units < 2 || c.N == 0 || c.A <= 0 {
		return 0
	}
	r, k := c.N/c.A, float64(c.Units)
	return max(0, (squares(c, r)*k/(k-1)-c.N)/(r*r*c.A2))
}

// squares is Σ(n − r·a)².
func squares(c Counts, r float64) float64 { return max(0, c.N2-2*r*c.NA+r*r*c.A2) }

// Garwood is the exact interval of a Poisson rate: n events on an exposure.
func Garwood(n, exposure float64) (low, high float64) {
	tail := (1 - Level) / 2
	if n > 0 {
		low = distuv.Gamma{Alpha: n, Beta: 1}.Quantile(tail) / exposure
	}
	return low, distuv.Gamma{Alpha: n + 1, Beta: 1}.Quantile(1-tail) / exposure
}
