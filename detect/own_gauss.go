package detect

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"hidechart/hide"
)

// gaussian is a normal distribution of feature vectors that flaws have no part
// in: fitted to the pixels nearest to it, again and again (the concentration
// steps of Rousseeuw & Van Driessen 1999, "A fast algorithm for the minimum
// covariance determinant estimator", from one start, the marginal medians).
// Where we differ: a fixed share is kept instead of half, since flaws are few, and no
// consistency factor is applied, since the distances are told in units of their median.
type gaussian struct {
	centre []float64
	root   []float64 // lower triangle, row by row: white = root × (x − centre)
}

const (
	// gaussSamples bounds the pixels a fit looks at: a covariance of nine
	// features is then known to 1 %.
	gaussSamples = 20000
	// gaussRidge is added to the covariance, in squared robust spreads: features
	// that hardly vary (the colours of a grey photograph) must not be divided by.
	gaussRidge = 1e-3
	// gaussReach bounds a value of the first, coordinate-wise distance, in
	// robust spreads: one broken feature must not decide alone.
	gaussReach = 8
)

// fitGaussian fits to rows of n features. Error: NotMeasurable when there are
// fewer rows than twice the features.
func fitGaussian(x []float64, n int, trim float64, refits int) (gaussian, error) {
	count := len(x) / max(n, 1)
	if count < 2*n+2 {
		return gaussian{}, hide.Faultf(hide.NotMeasurable, "score map: %d samples are too few", count)
	}
	middle, spread := marginals(x, n)
	z := make([]float64, len(x))
	far := make([]float64, count)
	for i := range count {
		for k := range n {
			v := (x[i*n+k] - middle[k]) / spread[k]
			z[i*n+k] = v
			v = math.Min(math.Abs(v), gaussReach)
			far[i] += v * v
		}
	}
	var g gaussian
	for range refits {
		limit := quantile(slices.Clone(far), trim)
		g = momentsOf(z, n, far, limit)
		for i := range far {
			far[i] = g.squared(z[i*n : (i+1)*n])
		}
	}
	return g.unscaled(middle, spread), nil
}

// marginals are the median and the robust spread of each feature.
func marginals(x []float64, n int) (middle, spreads []float64) {
	middle, spreads = make([]float64, n), make([]float64, n)
	v := make([]float64, len(x)/n)
	for k := range n {
		for i := range v {
			v[i] = x[i*n+k]
		}
		middle[k] = median(v)
		for i := range v {
			v[i] -= middle[k]
		}
		spreads[k] = spread(v) + 1e-6
	}
	return middle, spreads
}

// momentsOf is mean and covariance of the rows not farther than limit.
func momentsOf(z []float64, n int, far []float64, limit float64) gaussian {
	g := gaussian{centre: make([]float64, n)}
	var count float64
	for i, d := range far {
		if d <= limit {
			count++
			for k := range n {
				g.centre[k] += z[i*n+k]
			}
		}
	}
	for k := range n {
		g.centre[k] /= count
	}
	cov := mat.NewSymDense(n, nil)
	sums := make([]float64, n*n)
	for i, d := range far {
		if d > limit {
			continue
		}
		for r := range n {
			a := z[i*n+r] - g.centre[r]
			for k := r; k < n; k++ {
				sums[r*n+k] += a * (z[i*n+k] - g.centre[k])
			}
		}
	}
	for r := range n {
		for k := r; k < n; k++ {
			cov.SetSym(r, k, sums[r*n+k]/math.Max(count-1, 1))
		}
		cov.SetSym(r, r, cov.At(r, r)+gaussRidge)
	}
	g.root = whitening(cov)
	return g
}

// whitening is the inverse of the covariance's Cholesky factor. A covariance
// that rounding has made indefinite falls back to its diagonal.
func whitening(cov *mat.SymDense) []float64 {
	n := cov.SymmetricDim()
	out := make([]float64, n*n)
	var ch mat.Cholesky
	if !ch.Factorize(cov) {
		for k := range n {
			out[k*n+k] = 1 / math.Sqrt(cov.At(k, k))
		}
		return out
	}
	var l, inv mat.TriDense
	ch.LTo(&l)
	if err := inv.InverseTri(&l); err != nil { // only a warning: the ridge bounds the condition
		_ = err
	}
	for r := range n {
		for k := range r + 1 {
			out[r*n+k] = inv.At(r, k)
		}
	}
	return out
}

// squared is the squared Mahalanobis distance.
func (g gaussian) squared(x []float64) float64 {
	n := len(g.centre)
	var d float64
	for r := range n {
		var v float64
		for k := range r + 1 {
			v += g.root[r*n+k] * (x[k] - g.centre[k])
		}
		d += v * v
	}
	return d
}

// unscaled turns a Gaussian of standardised features into one of the features.
func (g gaussian) unscaled(middle, spread []float64) gaussian {
	n := len(middle)
	for r := range n {
		for k := range r + 1 {
			g.root[r*n+k] /= spread[k]
		}
	}
	for k := range n {
		g.centre[k] = middle[k] + spread[k]*g.centre[k]
	}
	return g
}
