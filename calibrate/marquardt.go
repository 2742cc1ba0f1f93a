package calibrate

import "gonum.org/v1/gonum/mat"

// trial takes a step at a damping: the cost there, and what makes it the state;
// false where the step cannot be solved.
type trial func(lambda float64) (cost float64, accept func(), ok bool)

// marquardtTries of ever stronger damping before a step is given up: twelve
// tenfolds span all of a float's useful range.
const marquardtTries = 12

// marquardt lowers a cost by damped steps (Marquardt 1963) until a step gains less
// than enough of 1 + cost, none is accepted, or the steps run out. normal sets the
// equations up at the present state.
func marquardt(cost float64, steps int, enough float64, normal func() trial) {
	lambda := 1e-3
	for range steps {
		try, accepted := normal(), false
		for range marquardtTries {
			next, accept, ok := try(lambda)
			if ok && next <= cost { // false for NaN
				gain := cost - next
				accept()
				cost, accepted = next, true
				lambda = max(lambda/10, 1e-12)
				if gain < enough*(1+cost) {
					return
				}
				break
			}
			lambda *= 10
		}
		if !accepted {
			return
		}
	}
}

// solvedBy solves factored equations; one that is only ill-conditioned is solved.
func solvedBy(c *mat.Cholesky, g *mat.VecDense) (*mat.VecDense, bool) {
	d := mat.NewVecDense(g.Len(), nil)
	if err := c.SolveVecTo(d, g); err != nil {
		if _, near := err.(mat.Condition); !near { //nolint:errorlint // gonum returns the value itself
			return nil, false
		}
	}
	return d, true
}
