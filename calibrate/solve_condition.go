package calibrate

import "gonum.org/v1/gonum/mat"

// held is the covariance of the parameters before from when those from it on are
// known: the Schur complement of their block; the rest is zero.
func held(cov [][]float64, from int) [][]float64 {
	n := len(cov)
	out := make([][]float64, n)
	for i := range out {
		out[i] = make([]float64, n)
		for k := range from {
			if i < from {
				out[i][k] = cov[i][k]
			}
		}
	}
	m := n - from
	b := mat.NewSymDense(m, nil)
	for i := range m {
		for k := i; k < m; k++ {
			b.SetSym(i, k, cov[from+i][from+k])
		}
	}
	var c mat.Cholesky
	if !c.Factorize(b) {
		return out
	}
	for k := range from {
		col := mat.NewVecDense(m, nil)
		for j := range m {
			col.SetVec(j, cov[from+j][k])
		}
		x := mat.NewVecDense(m, nil)
		_ = c.SolveVecTo(x, col) // ill-conditioned at worst: the answer is still the best there is
		for i := range from {
			for j := range m {
				out[i][k] -= cov[i][from+j] * x.AtVec(j)
			}
		}
	}
	return out
}
