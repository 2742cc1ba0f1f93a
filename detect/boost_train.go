package detect

import (
	"math"
	"math/rand/v2"
	"runtime"

	"golang.org/x/sync/errgroup"

	"hidechart/hide"
)

// boostTrainer holds what training shares between rounds and classes.
type boostTrainer struct {
	p      boostParams
	bins   *boostBins
	y      []int
	weight []float64
	score  [][]float64 // [class][row]
	prob   [][]float64 // [class][row]
	grower []*boostGrower
}

// trainBoost learns classes from rows x of features (NaN is missing).
//
// y[i] is the index of row i's class. weight[i] ≥ 0 is how much the row counts;
// nil counts all alike. The model is the same, bit for bit, at any GOMAXPROCS:
// each tree is grown by one goroutine, and sums over rows are made in blocks
// of fixed size. Time grows with rows × features × classes × rounds; the
// source of the method is at boostModel. Invalid on contradicting inputs.
func trainBoost(features, classes []string, x [][]float64, y []int, weight []float64, p boostParams) (*boostModel, error) {
	if err := p.validate(); err != nil {
		return nil, err
	}
	weight, err := checkedRows(features, classes, x, y, weight)
	if err != nil {
		return nil, err
	}
	bins, err := binned(x, len(features), p.Bins)
	if err != nil {
		return nil, err
	}
	m := &boostModel{
		Version: boostVersion, Features: features, Classes: classes,
		Base: logShares(y, weight, len(classes)), Temperature: 1, Rounds: [][]boostTree{},
	}
	for k := range p.Members {
		member := p
		member.Seed += uint64(k)
		t := &boostTrainer{p: member, bins: bins, y: y, weight: weight}
		t.learn(m)
	}
	return m, m.check()
}

// learn grows one member of the model, each answer its share of the mean of all.
func (t *boostTrainer) learn(m *boostModel) {
	n := len(t.y)
	for k := range m.Classes {
		t.score = append(t.score, filledWith(m.Base[k], n))
		t.prob = append(t.prob, make([]float64, n))
		t.grower = append(t.grower, newBoostGrower(t.bins, t.p))
	}
	m.loss = append(m.loss, t.softmaxRows())
	for r := range t.p.Rounds {
		trees := t.round(r)
		m.loss = append(m.loss, t.softmaxRows())
		for _, tree := range trees {
			for i, v := range tree.Value {
				tree.Value[i] = valueStepped(float64(v) / float64(t.p.Members))
			}
		}
		m.Rounds = append(m.Rounds, trees)
	}
}

// checkedRows holds the table against its rules and gives the weights.
func checkedRows(features, classes []string, x [][]float64, y []int, weight []float64) ([]float64, error) {
	if weight == nil {
		weight = filledWith(1, len(x))
	}
	err := checks{
		{len(features) > 0 && distinctNames(features), "features must have names, each its own"},
		{len(classes) > 1 && distinctNames(classes), "classes must be two or more with names, each its own"},
		{len(x) > 0 && len(x) <= math.MaxInt32, "there must be rows"},
		{len(y) == len(x) && len(weight) == len(x), "rows, classes of rows and weights must be as many"},
	}.err("train boosted trees")
	if err != nil {
		return nil, err
	}
	sum := 0.0
	for i := range x {
		if len(x[i]) != len(features) || y[i] < 0 || y[i] >= len(classes) || !(weight[i] >= 0) || !finite(weight[i]) {
			return nil, hide.Faultf(hide.Invalid, "train boosted trees: row %d has a wrong length, class or weight", i)
		}
		sum += weight[i]
	}
	if sum <= 0 || !finite(sum) {
		return nil, hide.Faultf(hide.Invalid, "train boosted trees: the rows' weights sum to %g", sum)
	}
	return weight, nil
}

// logShares is each class's log share of the weight. A class without rows
// counts as half a mean row, so that its logarithm exists.
func logShares(y []int, weight []float64, classes int) []float64 {
	share := make([]float64, classes)
	sum := 0.0
	for i, k := range y {
		share[k] += weight[i]
		sum += weight[i]
	}
	for k, s := range share {
		if s == 0 {
			s = 0.5 * sum / float64(len(y))
		}
		share[k] = math.Log(s / sum)
	}
	return share
}

func filledWith(v float64, n int) []float64 {
	s := make([]float64, n)
	for i := range s {
		s[i] = v
	}
	return s
}

// round grows one tree per class from the present probabilities and adds their
// answers to the scores.
func (t *boostTrainer) round(r int) []boostTree {
	trees := make([]boostTree, len(t.prob))
	rows := t.drawRows(r)
	var g errgroup.Group
	g.SetLimit(runtime.GOMAXPROCS(0))
	for k := range trees {
		g.Go(func() error {
			w := t.grower[k]
			t.derivatives(k, rows.taken, w.gradient, w.hessian)
			trees[k] = w.grow(rows, t.drawFeatures(r, k), t.score[k])
			return nil
		})
	}
	_ = g.Wait() // growing cannot fail
	return trees
}

// derivatives of the weighted log-loss by the score of class k: w(p−y) and
// w·p(1−p) (Friedman 2001, section 4.6), of the rows given.
func (t *boostTrainer) derivatives(k int, rows []int32, gradient, hessian []float64) {
	for _, i := range rows {
		w, p := t.weight[i], t.prob[k][i]
		d := p
		if t.y[i] == k {
			d--
		}
		gradient[i], hessian[i] = w*d, w*p*(1-p)
	}
}

// drawnRows are the rows that a round's trees are grown from and those that are left.
type drawnRows struct{ taken, left []int32 }

// drawRows draws those of round r; rows without weight teach nothing and are left.
func (t *boostTrainer) drawRows(r int) drawnRows {
	rng := rand.New(rand.NewPCG(t.p.Seed, uint64(r)<<32))
	var out drawnRows
	for i, w := range t.weight {
		if rng.Float64() < t.p.RowShare && w > 0 {
			out.taken = append(out.taken, int32(i)) //nolint:gosec // checkedRows
		} else {
			out.left = append(out.left, int32(i)) //nolint:gosec // checkedRows
		}
	}
	return out
}

// drawFeatures says which features the tree of class k in round r may ask.
func (t *boostTrainer) drawFeatures(r, k int) []bool {
	n := len(t.bins.cuts)
	use := make([]bool, n)
	rng := rand.New(rand.NewPCG(t.p.Seed, uint64(r)<<32+uint64(k)+1))
	keep := int(math.Ceil(t.p.FeatureShare * float64(n)))
	for _, f := range rng.Perm(n)[:keep] {
		use[f] = true
	}
	return use
}

// boostBlock is how many rows one goroutine takes at a time: some 100 µs of
// work, fixed so that sums do not depend on the number of cores.
const boostBlock = 4096

// softmaxRows renews the probabilities and gives the mean log-loss.
func (t *boostTrainer) softmaxRows() float64 {
	blocks := (t.bins.rows + boostBlock - 1) / boostBlock
	loss, sum := make([]float64, blocks), make([]float64, blocks)
	var g errgroup.Group
	g.SetLimit(runtime.GOMAXPROCS(0))
	for b := range blocks {
		g.Go(func() error {
			row := make([]float64, len(t.score))
			for i := b * boostBlock; i < min((b+1)*boostBlock, t.bins.rows); i++ {
				for k := range row {
					row[k] = t.score[k][i]
				}
				norm := softmax(row)
				loss[b] += t.weight[i] * (norm - t.score[t.y[i]][i])
				sum[b] += t.weight[i]
				for k := range row {
					t.prob[k][i] = row[k]
				}
			}
			return nil
		})
	}
	_ = g.Wait() // nothing here can fail
	all, total := 0.0, 0.0
	for b := range loss {
		all += loss[b]
		total += sum[b]
	}
	return all / total
}
