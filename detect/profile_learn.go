package detect

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"hidechart/hide"
)

// ReviewedHide is a hide whose candidates a person decided: those confirmed (as
// they were found or under another kind) and rejected are learned from.
type ReviewedHide struct {
	ID      string
	Defects []hide.Defect // as folded; those without evidence are passed over
}

// leastHides before a profile is used: with fewer, what holds for a hide cannot
// be told from what holds for the article.
const leastHides = 5

// profileFolds: hides left out together.
const profileFolds = 10

// profilePriors are the standard deviations tried for the weights of standardised
// features: from no change to speak of to a threefold change of the odds per spread.
func profilePriors() []float64 { return []float64{0.05, 0.1, 0.2, 0.4, 0.8} }

// Learn fits the profile of an article to its reviewed hides: logistic regression
// on the log-odds as sorted plus what was measured, with a normal prior on every
// change (ridge; Hoerl & Kennard 1970; le Cessie & van Houwelingen 1992), whose
// width is chosen on hides left out. The profile is active only if the log loss on
// hides left out falls by more than its own standard error. Error: Invalid when
// nothing was decided.
func Learn(article string, hides []ReviewedHide) (*Profile, error) {
	hides = slices.Clone(hides)
	slices.SortStableFunc(hides, func(a, b ReviewedHide) int { return cmp.Compare(a.ID, b.ID) })
	set := newLessons(hides)
	p := &Profile{Format: ProfileFormat, Article: article, Decided: len(set.real)}
	for _, h := range hides {
		p.Charts = append(p.Charts, h.ID)
	}
	p.Hides = set.hides
	if len(set.real) == 0 {
		return nil, hide.Faultf(hide.Invalid, "profile of %s: no candidate of the reviewed charts was confirmed or rejected", article)
	}
	best := math.Inf(1)
	var kept []float64
	width := 0.0
	for _, sd := range profilePriors() {
		out, err := set.leftOut(sd)
		if err != nil {
			return nil, err
		}
		loss, _ := set.loss(out)
		p.Steps = append(p.Steps, ProfilePrior{sd, loss})
		if loss < best {
			best, kept, width = loss, out, sd
		}
	}
	p.Was, p.Gain = set.figures(set.as, 0.5), set.figures(kept, 0.5)
	p.Gain = set.figures(kept, set.keeping(kept, p.Was.Real))
	set.decide(p, kept)
	w, err := set.fit(width, func(int) bool { return true })
	if err != nil {
		return nil, err
	}
	p.Bias, p.Slope = w[0], w[1]
	for k, t := range set.terms {
		t.Weight = w[2+k]
		p.Terms = append(p.Terms, t)
	}
	return p, nil
}

// lessons are the decided candidates of all hides.
type lessons struct {
	terms []ProfileTerm
	x     [][]float64 // 1, log-odds as sorted, standardised features
	as    []float64   // probability as sorted
	real  []bool
	fold  []int
	hides int
}

func newLessons(hides []ReviewedHide) *lessons {
	l := &lessons{}
	var decided []hide.Defect
	for _, h := range hides {
		n := len(decided)
		for _, d := range h.Defects {
			if len(d.Evidence) > 0 && (d.Status == hide.Confirmed || d.Status == hide.Rejected) {
				decided = append(decided, d)
				l.fold = append(l.fold, l.hides%profileFolds)
			}
		}
		if len(decided) > n {
			l.hides++
		}
	}
	l.terms = termsOf(decided)
	for _, d := range decided {
		x := []float64{1, logit(d.Probability)}
		for _, t := range l.terms {
			z := 0.0
			if v, ok := d.Evidence[t.Feature]; ok {
				z = t.standard(v)
			}
			x = append(x, z)
		}
		l.x, l.as, l.real = append(l.x, x), append(l.as, d.Probability), append(l.real, d.Status == hide.Confirmed)
	}
	return l
}

// termsOf are the features that vary, with their mean and spread.
func termsOf(decided []hide.Defect) []ProfileTerm {
	var out []ProfileTerm
	for _, name := range featureWords() {
		var sum, squares, n float64
		for _, d := range decided {
			if v, ok := d.Evidence[name]; ok {
				v = compressed(v)
				sum, squares, n = sum+v, squares+v*v, n+1
			}
		}
		if n < 2 {
			continue
		}
		mean := sum / n
		if sd := math.Sqrt(max(squares/n-mean*mean, 0)); sd > 1e-6 {
			out = append(out, ProfileTerm{Feature: name, Mean: mean, SD: sd})
		}
	}
	return out
}

// newtonSteps are plenty: the loss is convex and the steps are halved when they
// overshoot.
const newtonSteps = 30

// fit is the most likely change under the prior, by Newton's method, from the
// lessons that used picks.
func (l *lessons) fit(sd float64, used func(i int) bool) ([]float64, error) {
	n := len(l.x[0])
	w := make([]float64, n)
	for range newtonSteps {
		gradient, curvature := l.slope(w, sd, used)
		var chol mat.Cholesky
		if !chol.Factorize(curvature) {
			return nil, hide.Faultf(hide.Internal, "profile: the fit has no curvature")
		}
		var step mat.VecDense
		if err := chol.SolveVecTo(&step, gradient); err != nil {
			return nil, hide.Wrapf(hide.Internal, err, "profile")
		}
		size := mat.Norm(&step, math.Inf(1))
		limit := min(1, 2/max(size, 1e-12)) // no weight moves by more than 2 at once
		for k := range w {
			w[k] -= limit * step.AtVec(k)
		}
		if size < 1e-9 {
			break
		}
	}
	return w, nil
}

// biasPrior is the prior's deviation of the change of the log-odds common to all
// candidates of an article: e to either side.
const biasPrior = 1

func (l *lessons) slope(w []float64, sd float64, used func(i int) bool) (*mat.VecDense, *mat.SymDense) {
	n := len(w)
	g, h := mat.NewVecDense(n, nil), mat.NewSymDense(n, nil)
	for k, v := range w {
		prior := sd
		if k == 0 {
			prior = biasPrior
		}
		g.SetVec(k, v/(prior*prior))
		h.SetSym(k, k, 1/(prior*prior))
	}
	for i, x := range l.x {
		if !used(i) {
			continue
		}
		p := l.corrected(w, x)
		y := 0.0
		if l.real[i] {
			y = 1
		}
		for a := range n {
			g.SetVec(a, g.AtVec(a)+(p-y)*x[a])
			for b := a; b < n; b++ {
				h.SetSym(a, b, h.At(a, b)+p*(1-p)*x[a]*x[b])
			}
		}
	}
	return g, h
}

func (l *lessons) corrected(w, x []float64) float64 {
	z := x[1] // as sorted
	for k, v := range w {
		z += v * x[k]
	}
	return logistic(z)
}

// leftOut are the probabilities of each candidate from a fit without its hide's
// fold.
func (l *lessons) leftOut(sd float64) ([]float64, error) {
	out := make([]float64, len(l.x))
	for f := range min(profileFolds, l.hides) {
		w, err := l.fit(sd, func(i int) bool { return l.fold[i] != f })
		if err != nil {
			return nil, err
		}
		for i, x := range l.x {
			if l.fold[i] == f {
				out[i] = l.corrected(w, x)
			}
		}
	}
	return out, nil
}

// loss is the mean negative log likelihood, and each candidate's own.
func (l *lessons) loss(p []float64) (float64, []float64) {
	each := make([]float64, len(p))
	var sum float64
	for i, v := range p {
		v = min(max(v, leastOdds), 1-leastOdds)
		if !l.real[i] {
			v = 1 - v
		}
		each[i] = -math.Log(v)
		sum += each[i]
	}
	return sum / float64(len(p)), each
}

// figures at a threshold.
func (l *lessons) figures(p []float64, threshold float64) ProfileFigures {
	f := ProfileFigures{Threshold: threshold}
	f.LogLoss, _ = l.loss(p)
	for i, v := range p {
		switch {
		case v < threshold:
		case l.real[i]:
			f.Real++
		default:
			f.False++
		}
	}
	return f
}

// keeping is the highest threshold that keeps so many real ones.
func (l *lessons) keeping(p []float64, n int) float64 {
	var kept []float64
	for i, v := range p {
		if l.real[i] {
			kept = append(kept, v)
		}
	}
	slices.Sort(kept)
	if n == 0 {
		return 1
	}
	return kept[len(kept)-n]
}

// decide whether the profile changes anything.
func (l *lessons) decide(p *Profile, kept []float64) {
	_, before := l.loss(l.as)
	_, after := l.loss(kept)
	var sum, squares float64
	for i := range before {
		d := before[i] - after[i]
		sum, squares = sum+d, squares+d*d
	}
	n := float64(len(before))
	gain := sum / n
	u := math.Sqrt(max(squares/n-gain*gain, 0) / n)
	switch {
	case l.hides < leastHides:
		p.Why = fmt.Sprintf("not used: %d reviewed hides, at least %d are needed", l.hides, leastHides)
	case gain <= u:
		p.Why = fmt.Sprintf("not used: no sure gain on hides left out (log loss lower by %.3f ± %.3f)", gain, u)
	default:
		p.Active = true
		p.Why = fmt.Sprintf("used: log loss on hides left out is lower by %.3f ± %.3f", gain, u)
	}
}
