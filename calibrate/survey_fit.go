package calibrate

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// descend is Levenberg-Marquardt over all unknowns (see problem.descend).
func (b *bundle) descend(s *bundleState, steps int, enough, heights float64) {
	s.cost = b.cost(s, heights)
	marquardt(s.cost, steps, enough, func() trial {
		a, g := b.normal(s, heights)
		return func(lambda float64) (float64, func(), bool) {
			d, ok := solveScaled(a, g, lambda)
			if !ok {
				return 0, nil, false
			}
			next := b.stepped(s, d.RawVector().Data)
			next.cost = b.cost(&next, heights)
			return next.cost, func() { *s = next }, true
		}
	})
}

// solveScaled is a damped step with unit diagonal (Jacobi scaling): unknowns
// differ by ten orders of magnitude.
func solveScaled(a *mat.SymDense, g *mat.VecDense, lambda float64) (*mat.VecDense, bool) {
	n := g.Len()
	scaled, scale := unitDiagonal(a)
	right := mat.NewVecDense(n, nil)
	for i := range n {
		scaled.SetSym(i, i, 1+lambda)
		right.SetVec(i, g.AtVec(i)*scale[i])
	}
	var c mat.Cholesky
	if !c.Factorize(scaled) {
		return nil, false
	}
	d, ok := solvedBy(&c, right)
	if !ok {
		return nil, false
	}
	for i := range n {
		d.SetVec(i, d.AtVec(i)*scale[i])
	}
	return d, true
}

func unitDiagonal(a *mat.SymDense) (*mat.SymDense, []float64) {
	n := a.SymmetricDim()
	scale := make([]float64, n)
	for i := range n {
		scale[i] = 1 / math.Sqrt(a.At(i, i)+1e-300)
	}
	out := mat.NewSymDense(n, nil)
	for i := range n {
		for j := i; j < n; j++ {
			out.SetSym(i, j, a.At(i, j)*scale[i]*scale[j])
		}
	}
	return out, scale
}

// covariance of all unknowns with the gauge held.
func (b *bundle) covariance(s *bundleState, heights float64) (*mat.SymDense, bool) {
	a, _ := b.normal(s, heights)
	scaled, scale := unitDiagonal(a)
	var c mat.Cholesky
	if !c.Factorize(scaled) {
		return nil, false
	}
	var inverse mat.SymDense
	if err := c.InverseTo(&inverse); err != nil {
		if _, near := err.(mat.Condition); !near { //nolint:errorlint // gonum returns the value itself
			return nil, false
		}
	}
	for i := range scale {
		for j := i; j < len(scale); j++ {
			inverse.SetSym(i, j, inverse.At(i, j)*scale[i]*scale[j])
		}
	}
	return &inverse, !math.IsNaN(s.cost)
}

// settle alternates the fit, the re-estimation of the noise and the dropping of
// tags that moved.
func (b *bundle) settle(s bundleState) bundleState {
	for round := range 2 * settleRounds {
		b.descend(&s, mostSteps, midGain, heldHeight)
		b.renoise(&s)
		if round+1 < dropRound {
			continue
		}
		if !b.dropStray(&s) && round >= settleRounds-1 {
			break
		}
	}
	b.descend(&s, mostSteps, fineGain, heldHeight)
	return s
}

// renoise sets the factor on the corners' assumed uncertainty from the
// weighted residuals, with the assumed worth as much as priorCorners.
func (b *bundle) renoise(s *bundleState) {
	c := s.camera()
	sum, n := priorCorners, priorCorners
	b.each(func(g *sight, k int) {
		ex, ey := b.residual(s, c, g, k)
		u := math.Sqrt((ex*ex + ey*ey) / b.variance(g, k))
		sum += u * min(u, huberReach*s.noise)
		n += 2
	})
	free := perPose*len(b.names) + 3*len(b.ids) - 3
	s.noise = math.Sqrt(sum / max(n-float64(free), priorCorners))
}

// dropStray takes out corners that lie apart from their tag and tags that lie
// apart in one photograph, the worst of each tag first, as long as another
// photograph shows the tag. It reports whether any was dropped.
func (b *bundle) dropStray(s *bundleState) bool {
	worst := make([]int, len(b.ids)) // sight + 1
	most := make([]float64, len(b.ids))
	shown := make([]int, len(b.ids))
	c := s.camera()
	for i := range b.seen {
		g := &b.seen[i]
		if g.Good == [4]bool{} {
			continue
		}
		shown[g.tag]++
		for k := range 4 {
			if !g.Good[k] {
				continue
			}
			ex, ey := b.residual(s, c, g, k)
			off := math.Hypot(ex, ey)
			far := off / (strayDeviations * s.noise * math.Sqrt(b.variance(g, k)))
			if off > strayPX && far > 1 && far > most[g.tag] {
				most[g.tag], worst[g.tag] = far, i+1
			}
		}
	}
	dropped := false
	for tag, w := range worst {
		if w > 0 && (shown[tag] > 1) {
			b.dropFrom(s, c, &b.seen[w-1])
			dropped = true
		}
	}
	return dropped
}

// dropFrom takes the worst corner, or the whole tag when too few would remain or
// all its corners lie off together.
func (b *bundle) dropFrom(s *bundleState, c Camera, g *sight) {
	var mx, my, n, most float64
	at := 0
	for k := range 4 {
		if !g.Good[k] {
			continue
		}
		ex, ey := b.residual(s, c, g, k)
		mx, my, n = mx+ex, my+ey, n+1
		if d := math.Hypot(ex, ey); d > most {
			most, at = d, k
		}
	}
	// a single stray corner shifts the mean by its share only
	if together := math.Hypot(mx, my) / n; together < most/2 && n > cornersKept {
		g.Good[at] = false
		return
	}
	g.Good = [4]bool{}
	b.unused[g.photo] = append(b.unused[g.photo], g.ID)
}
