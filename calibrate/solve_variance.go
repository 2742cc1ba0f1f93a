package calibrate

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// covariance inverts the normal equations at the solution.
func (pr *problem) covariance(s *solution) (*mat.SymDense, bool) {
	a, _ := pr.normal(s)
	n := pr.unknowns()
	// scaled to a unit diagonal first: the parameters' units differ by 1e8
	scale := make([]float64, n)
	for i := range n {
		if !(a.At(i, i) > 0) {
			return nil, false
		}
		scale[i] = 1 / math.Sqrt(a.At(i, i))
	}
	for i := range n {
		for k := i; k < n; k++ {
			a.SetSym(i, k, a.At(i, k)*scale[i]*scale[k])
		}
	}
	var c mat.Cholesky
	if !c.Factorize(a) {
		return nil, false
	}
	inv := mat.NewSymDense(n, nil)
	if err := c.InverseTo(inv); err != nil {
		if _, near := err.(mat.Condition); !near { //nolint:errorlint // gonum returns the value itself
			return nil, false
		}
	}
	for i := range n {
		for k := i; k < n; k++ {
			inv.SetSym(i, k, inv.At(i, k)*scale[i]*scale[k])
		}
	}
	return inv, true
}

// reestimate updates the variances of corners and tags from the residuals and
// what the fit leaves open of them.
func (pr *problem) reestimate(s *solution, cov *mat.SymDense) {
	jac := pr.jacobian(s)
	v := s.view()
	sum, n := priorCorners, priorCorners
	for i := range pr.seen {
		for k := range 4 {
			if !pr.seen[i].Good[k] {
				continue
			}
			ex, ey := pr.residual(s, v, i, k)
			w := pr.cornerWeight(s, i, k, ex, ey) * s.noise * s.noise
			sum += w * (ex*ex + ey*ey)
			n += 2
			for axis := range 2 {
				r := pr.row(s, &jac[i][k][axis], i, k)
				for p := range r.at {
					for q := range r.at {
						sum += w * r.d[p] * r.d[q] * cov.At(r.at[p], r.at[q])
					}
				}
			}
		}
	}
	s.noise = math.Sqrt(sum / n)
	startTurn := pr.p.TurnUDeg * math.Pi / 180
	place, turn := priorTags*pr.startTagU()*pr.startTagU(), priorTags/2*startTurn*startTurn
	for i, e := range s.tags {
		w, at := s.tagWeight(i), pTags+perTag*i
		place += w * (e.dx*e.dx + e.dy*e.dy + cov.At(at, at) + cov.At(at+1, at+1))
		turn += w * (e.turn*e.turn + cov.At(at+2, at+2))
	}
	tags := float64(len(s.tags))
	s.tagU = math.Sqrt(place / (priorTags + 2*tags))
	s.turnU = max(turnFloor, math.Sqrt(turn/(priorTags/2+tags)))
}
