package calibrate

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"hidechart/hide"
)

// joint is the fit of several photographs that one camera took of one table:
// each has its own pose; the inner geometry, the tags' printed size and the tags'
// own errors are the same in all, so that a tag seen twice ties two photographs
// together and the lens is known from all tags. Unknowns in the order of the
// matrices: inner geometry, print, then six of the pose for each photograph, then
// three for each tag seen, by ascending id.
type joint struct {
	tiles []*problem
	bare  []*problem // the same without a corner: the priors alone
	ids   []int
}

func newJoint(tiles []*problem) *joint {
	j := &joint{tiles: tiles}
	for _, pr := range tiles {
		b := *pr
		b.seen = slices.Clone(pr.seen)
		for i := range b.seen {
			b.seen[i].Good = [4]bool{}
		}
		j.bare = append(j.bare, &b)
		j.ids = append(j.ids, idsOf(pr.seen)...)
	}
	slices.Sort(j.ids)
	j.ids = slices.Compact(j.ids)
	return j
}

func (j *joint) poses() int { return innerN + 1 }

func (j *joint) unknowns() int { return j.poses() + perPose*len(j.tiles) + perTag*len(j.ids) }

// place is where a tile's own unknown lies among those of all.
func (j *joint) place(tile, i int) int {
	switch {
	case i < pFocal:
		return j.poses() + perPose*tile + i
	case i <= pPrint:
		return i - pFocal
	}
	tag, _ := slices.BinarySearch(j.ids, j.tiles[tile].seen[(i-pTags)/perTag].ID)
	return j.poses() + perPose*len(j.tiles) + perTag*tag + (i-pTags)%perTag
}

// normal adds the tiles' normal equations; what is shared has its prior once.
func (j *joint) normal(all []solution) (*mat.SymDense, *mat.VecDense) {
	n := j.unknowns()
	a, g := mat.NewSymDense(n, nil), mat.NewVecDense(n, nil)
	had := make([]bool, n)
	for t, pr := range j.tiles {
		m, v := pr.normal(&all[t])
		m0, v0 := j.bare[t].normal(&all[t])
		k := pr.unknowns()
		for p := range k {
			at := j.place(t, p)
			keep := 1.0 // of the prior
			if had[at] {
				keep = 0
			}
			g.SetVec(at, g.AtVec(at)+v.AtVec(p)-(1-keep)*v0.AtVec(p))
			a.SetSym(at, at, a.At(at, at)+m.At(p, p)-(1-keep)*m0.At(p, p))
			for q := p + 1; q < k; q++ { // priors have nothing off the diagonal
				if to := j.place(t, q); to != at {
					a.SetSym(at, to, a.At(at, to)+m.At(p, q))
				}
			}
		}
		for p := range k {
			had[j.place(t, p)] = true
		}
	}
	return a, g
}

// cost is the robust cost of all, with each shared prior once.
func (j *joint) cost(all []solution) float64 {
	sum := 0.0
	for t, pr := range j.tiles {
		sum += pr.totalCost(&all[t]) - j.bare[t].totalCost(&all[t])
	}
	s := &all[0]
	for i := pFocal; i < cameraN; i++ {
		if sd := j.tiles[0].sd[i]; sd > 0 {
			u := (s.inner[i] - j.tiles[0].mean[i]) / sd
			sum += u * u
		}
	}
	sum += s.print / j.tiles[0].p.PrintU * s.print / j.tiles[0].p.PrintU
	for _, id := range j.ids {
		if t, i := j.first(id); t >= 0 {
			sum += (freedom + perTag) * math.Log1p(all[t].strain(i)/freedom)
		}
	}
	if math.IsNaN(sum) {
		return math.Inf(1)
	}
	return sum
}

// first is the first tile that shows a tag, and its place there.
func (j *joint) first(id int) (tile, i int) {
	for t, pr := range j.tiles {
		if i := slices.IndexFunc(pr.seen, func(s Sighting) bool { return s.ID == id }); i >= 0 {
			return t, i
		}
	}
	return -1, 0
}

// advanced takes a step of all unknowns.
func (j *joint) advanced(all []solution, d *mat.VecDense) []solution {
	out := make([]solution, len(all))
	for t := range all {
		step := make([]float64, cameraN)
		for i := range step {
			step[i] = d.AtVec(j.place(t, i))
		}
		next := all[t].stepped(step)
		next.print += d.AtVec(j.place(t, pPrint))
		out[t] = next
		out[t].tags = make([]tagError, len(all[t].tags))
		for i, e := range all[t].tags {
			at := j.place(t, pTags+perTag*i)
			out[t].tags[i] = tagError{e.dx + d.AtVec(at), e.dy + d.AtVec(at+1), e.turn + d.AtVec(at+2)}
		}
	}
	return out
}

// descend is the Levenberg-Marquardt descent of the single fit, over all.
func (j *joint) descend(all []solution) []solution {
	cost, lambda := j.cost(all), 1e-3
	for range mostSteps {
		a, g := j.normal(all)
		accepted := false
		for range 12 {
			if d, ok := solveDamped(a, g, lambda, j.unknowns()); ok {
				next := j.advanced(all, d)
				if c := j.cost(next); c <= cost {
					gain := cost - c
					all, cost, accepted = next, c, true
					lambda = max(lambda/10, 1e-12)
					if gain < midGain*(1+cost) {
						return all
					}
					break
				}
			}
			lambda *= 10
		}
		if !accepted {
			return all
		}
	}
	return all
}

// covariance of all unknowns. ok is false when they are not fixed.
func (j *joint) covariance(all []solution) (*mat.SymDense, bool) {
	a, _ := j.normal(all)
	return inverted(a)
}

// inverted is the inverse of normal equations, scaled to a unit diagonal first,
// as the parameters' units differ by 1e8.
func inverted(a *mat.SymDense) (*mat.SymDense, bool) {
	n := a.SymmetricDim()
	scale := make([]float64, n)
	for i := range n {
		if !(a.At(i, i) > 0) {
			return nil, false
		}
		scale[i] = 1 / math.Sqrt(a.At(i, i))
	}
	b := mat.NewSymDense(n, nil)
	for i := range n {
		for k := i; k < n; k++ {
			b.SetSym(i, k, a.At(i, k)*scale[i]*scale[k])
		}
	}
	var c mat.Cholesky
	if !c.Factorize(b) {
		return nil, false
	}
	out := mat.NewSymDense(n, nil)
	if err := c.InverseTo(out); err != nil {
		if _, near := err.(mat.Condition); !near { //nolint:errorlint // gonum returns the value itself
			return nil, false
		}
	}
	for i := range n {
		for k := i; k < n; k++ {
			out.SetSym(i, k, out.At(i, k)*scale[i]*scale[k])
		}
	}
	return out, true
}

// jointRounds of fit and re-estimation: the single fits have settled the
// variances already, and sharing the tags changes them by a few percent.
const jointRounds = 3

// settle fits all and leaves the covariance of the camera's unknowns (inner
// geometry, then the poses). Error: NotMeasurable.
func (j *joint) settle(all []solution) ([]solution, [][]float64, error) {
	for round := range jointRounds {
		all = j.descend(all)
		wide := all
		if round == jointRounds-1 {
			wide = slices.Clone(all)
			for t := range wide {
				wide[t].tagU, wide[t].turnU = wide[t].tagU*normalScale, wide[t].turnU*normalScale
			}
		}
		cov, ok := j.covariance(wide)
		if !ok {
			break
		}
		if round == jointRounds-1 {
			return all, j.cameraPart(cov), nil
		}
		j.reestimate(all, cov)
	}
	return nil, nil, hide.Faultf(hide.NotMeasurable, "the tags seen do not fix the photographs' poses; spread them over the table")
}

// reestimate updates the scatter of the tags from all of them, as the single
// fit does.
func (j *joint) reestimate(all []solution, cov *mat.SymDense) {
	pr := j.tiles[0]
	startTurn := pr.p.TurnUDeg * math.Pi / 180
	place, turn := priorTags*pr.startTagU()*pr.startTagU(), priorTags/2*startTurn*startTurn
	for _, id := range j.ids {
		t, i := j.first(id)
		e, w, at := all[t].tags[i], all[t].tagWeight(i), j.place(t, pTags+perTag*i)
		place += w * (e.dx*e.dx + e.dy*e.dy + cov.At(at, at) + cov.At(at+1, at+1))
		turn += w * (e.turn*e.turn + cov.At(at+2, at+2))
	}
	tags := float64(len(j.ids))
	for t := range all {
		all[t].tagU = math.Sqrt(place / (priorTags + 2*tags))
		all[t].turnU = max(turnFloor, math.Sqrt(turn/(priorTags/2+tags)))
	}
}

// cameraPart is the covariance without print and tags.
func (j *joint) cameraPart(cov *mat.SymDense) [][]float64 {
	var at []int
	for i := range innerN {
		at = append(at, i)
	}
	for i := range perPose * len(j.tiles) {
		at = append(at, j.poses()+i)
	}
	out := make([][]float64, len(at))
	for i := range at {
		out[i] = make([]float64, len(at))
		for k := range at {
			out[i][k] = cov.At(at[i], at[k])
		}
	}
	return out
}
