package calibrate

import (
	"math"
	"sync"

	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/lapack/lapack64"
	"gonum.org/v1/gonum/mat"

	"hidechart/hide"
)

// Constants of the estimation.
const (
	huberReach = 2.0 // corners beyond two deviations count linearly: 95 % lie within
	// freedom of Student's t for the tags' own errors: 4 is the usual choice where
	// a share of gross errors must be borne (Lange, Little & Taylor 1989).
	freedom = 4.0
	// priorTags and priorCorners are how many tags' coordinates and corners'
	// coordinates the assumed uncertainties are worth when they are re-estimated.
	priorTags, priorCorners = 4.0, 8.0
	mostSteps               = 40
	settleRounds            = 8 // the variances change by under 2 % after six
	turnFloor               = 1e-4
	// Stray corners are told after dropRound re-estimations, when the variances have
	// come near their values: half a pixel and eight deviations are no noise.
	dropRound       = 3
	strayPX         = 0.5
	strayDeviations = 8
	// The scale of a t distribution of 4 degrees fitted to normal errors in three
	// dimensions is 0.85 of their deviation (E[7Q/(4+Q/c)] = 3c, Q of chi-square
	// with 3 degrees, gives c = 0.72); the covariance is of the deviation.
	normalScale = 1 / 0.85
	// A step that lowers the cost by less than this share ends the descent: rough
	// to compare starts, middling between re-estimations, fine far below what a corner's noise makes of it.
	roughGain, midGain, fineGain = 1e-3, 1e-6, 1e-9
)

func (pr *problem) unknowns() int { return pTags + perTag*len(pr.seen) }

// best runs every start a few steps, at the same time, and keeps the cheapest.
func (pr *problem) best(starts []solution) solution {
	var all sync.WaitGroup
	for i := range starts {
		all.Go(func() { pr.descend(&starts[i], mostSteps/2, roughGain) })
	}
	all.Wait()
	best := 0
	for i := range starts {
		if starts[i].cost < starts[best].cost {
			best = i
		}
	}
	return starts[best]
}

// settle alternates the fit and the re-estimation of the variances, then leaves
// the covariance. Error: NotMeasurable when the corners do not fix a pose.
func (pr *problem) settle(s *solution) error {
	for round := range settleRounds {
		pr.descend(s, mostSteps, midGain)
		if round == dropRound {
			pr.dropStray(s)
		}
		cov, ok := pr.covariance(s)
		if !ok {
			return hide.Faultf(hide.NotMeasurable, "the tags seen do not fix the camera's pose; spread them over the table")
		}
		pr.reestimate(s, cov)
	}
	pr.descend(s, mostSteps, fineGain)
	wide := *s
	wide.tagU, wide.turnU = s.tagU*normalScale, s.turnU*normalScale
	cov, ok := pr.covariance(&wide)
	if !ok || math.IsNaN(s.cost) {
		return hide.Faultf(hide.NotMeasurable, "the tags seen do not fix the camera's pose; spread them over the table")
	}
	s.cov = make([][]float64, cameraN)
	for i := range s.cov {
		s.cov[i] = make([]float64, cameraN)
		for k := range s.cov[i] {
			s.cov[i][k] = cov.At(i, k)
		}
	}
	return nil
}

// dropStray takes out single corners that lie apart from their own tag: an edge
// that leather covers can be mistaken for the tag's. The tag's errors of place and
// turn are allowed for first, so a tag that was moved keeps its corners.
func (pr *problem) dropStray(s *solution) {
	v := s.view()
	for i := range pr.seen {
		for k := range 4 {
			ex, ey := pr.residual(s, v, i, k)
			off := math.Hypot(ex, ey)
			if off > strayPX && off > strayDeviations*s.noise*math.Sqrt(pr.cornerVariance(i, k)) {
				pr.seen[i].Good[k] = false
			}
		}
	}
}

// descend is Levenberg-Marquardt (Marquardt 1963) with iteratively re-weighted
// residuals; the cost that must fall is the robust one.
func (pr *problem) descend(s *solution, steps int, enough float64) {
	s.cost = pr.totalCost(s)
	marquardt(s.cost, steps, enough, func() trial {
		a, g := pr.normal(s)
		return func(lambda float64) (float64, func(), bool) {
			d, ok := solveDamped(a, g, lambda, pr.unknowns())
			if !ok {
				return 0, nil, false
			}
			next := pr.advanced(s, d)
			return next.cost, func() { *s = next }, true
		}
	})
}

func solveDamped(a *mat.SymDense, g *mat.VecDense, lambda float64, n int) (*mat.VecDense, bool) {
	b := mat.NewSymDense(n, nil)
	b.CopySym(a)
	for i := range n {
		b.SetSym(i, i, a.At(i, i)*(1+lambda)+1e-300)
	}
	// not mat.Cholesky, which estimates a condition number each time that nothing here asks for
	factor, ok := lapack64.Potrf(b.RawSymmetric())
	if !ok {
		return nil, false
	}
	d := mat.VecDenseCopyOf(g)
	lapack64.Potrs(factor, blas64.General{Rows: n, Cols: 1, Stride: 1, Data: d.RawVector().Data})
	return d, true
}

func (pr *problem) advanced(s *solution, d *mat.VecDense) solution {
	next := s.stepped(d.RawVector().Data[:cameraN])
	next.print += d.AtVec(pPrint)
	next.tags = make([]tagError, len(s.tags))
	for i, e := range s.tags {
		at := pTags + perTag*i
		next.tags[i] = tagError{e.dx + d.AtVec(at), e.dy + d.AtVec(at+1), e.turn + d.AtVec(at+2)}
	}
	next.cost = pr.totalCost(&next)
	if math.IsNaN(next.cost) {
		next.cost = math.Inf(1)
	}
	return next
}

// residual is observed less projected, px.
func (pr *problem) residual(s *solution, v View, i, k int) (ex, ey float64) {
	x, y := pr.corner(s, i, k)
	px, py := v.project(x, y, 0)
	c := pr.seen[i].Corners[k]
	return float64(c.X) - px, float64(c.Y) - py
}

// strain is a tag's own error in units of what is assumed, squared.
func (s *solution) strain(i int) float64 {
	e := s.tags[i]
	return (e.dx*e.dx+e.dy*e.dy)/(s.tagU*s.tagU) + e.turn*e.turn/(s.turnU*s.turnU)
}

func (pr *problem) totalCost(s *solution) float64 {
	v := s.view()
	sum := 0.0
	for i := range pr.seen {
		for k := range 4 {
			if !pr.seen[i].Good[k] {
				continue
			}
			ex, ey := pr.residual(s, v, i, k)
			u := math.Sqrt((ex*ex + ey*ey) / pr.cornerVariance(i, k) / (s.noise * s.noise))
			if u <= huberReach {
				sum += u * u
			} else {
				sum += huberReach * (2*u - huberReach)
			}
		}
		sum += (freedom + perTag) * math.Log1p(s.strain(i)/freedom)
	}
	for i := pFocal; i < cameraN; i++ {
		if pr.sd[i] > 0 {
			u := (s.inner[i] - pr.mean[i]) / pr.sd[i]
			sum += u * u
		}
	}
	u := s.print / pr.p.PrintU
	return sum + u*u
}

// normal builds the weighted normal equations with the priors.
func (pr *problem) normal(s *solution) (*mat.SymDense, *mat.VecDense) {
	n := pr.unknowns()
	a, g := make([]float64, n*n), make([]float64, n) // a row by row, from the diagonal on
	jac := pr.jacobian(s)
	v := s.view()
	for i := range pr.seen {
		for k := range 4 {
			if !pr.seen[i].Good[k] {
				continue
			}
			ex, ey := pr.residual(s, v, i, k)
			w := pr.cornerWeight(s, i, k, ex, ey)
			for axis, e := range [2]float64{ex, ey} {
				r := pr.row(s, &jac[i][k][axis], i, k)
				for p, at := range r.at {
					by := w * r.d[p]
					g[at] += by * e
					line := a[at*n : (at+1)*n]
					for q := p; q < len(r.at); q++ { // at rises
						line[r.at[q]] += by * r.d[q]
					}
				}
			}
		}
	}
	sym, vec := mat.NewSymDense(n, a), mat.NewVecDense(n, g)
	pr.addPriors(s, sym, vec)
	return sym, vec
}

func (pr *problem) cornerWeight(s *solution, i, k int, ex, ey float64) float64 {
	variance := pr.cornerVariance(i, k) * s.noise * s.noise
	u := math.Sqrt((ex*ex + ey*ey) / variance)
	if u <= huberReach {
		return 1 / variance
	}
	return huberReach / u / variance
}

func (pr *problem) addPriors(s *solution, a *mat.SymDense, g *mat.VecDense) {
	add := func(i int, value, mean, sd float64) {
		w := 1 / (sd * sd)
		a.SetSym(i, i, a.At(i, i)+w)
		g.SetVec(i, g.AtVec(i)-w*(value-mean))
	}
	for i := pFocal; i < cameraN; i++ {
		if pr.sd[i] > 0 {
			add(i, s.inner[i], pr.mean[i], pr.sd[i])
		}
	}
	add(pPrint, s.print, 0, pr.p.PrintU)
	for i, e := range s.tags {
		soft := 1 / math.Sqrt(s.tagWeight(i))
		at := pTags + perTag*i
		add(at, e.dx, 0, s.tagU*soft)
		add(at+1, e.dy, 0, s.tagU*soft)
		add(at+2, e.turn, 0, s.turnU*soft)
	}
}

func (s *solution) tagWeight(i int) float64 { return (freedom + perTag) / (freedom + s.strain(i)) }
