package detect

import "math"

// derivSum is a sum of first and second derivatives over rows.
type derivSum struct{ g, h float64 }

func (a derivSum) minus(b derivSum) derivSum { return derivSum{a.g - b.g, a.h - b.h} }

// boostGrower grows trees of one class; its buffers serve every round.
type boostGrower struct {
	p    boostParams
	bins *boostBins
	// gradient and hessian are per row of the table, set before grow.
	gradient, hessian []float64

	start []int // where each feature's bins start in a histogram
	use   []bool
	rows  []int32 // those that the tree is grown from, those of a node side by side
	spare []int32
	near  []derivSum // derivatives in the order of a node's rows
	free  [][]derivSum
	tree  boostTree
	split []boostSplit // by node; gain 0 at a leaf
	right []int        // by node: where the right side is; the left one follows the node
	score []float64
}

func newBoostGrower(bins *boostBins, p boostParams) *boostGrower {
	n := bins.rows
	w := &boostGrower{
		p: p, bins: bins, gradient: make([]float64, n), hessian: make([]float64, n),
		start: make([]int, len(bins.cuts)+1), spare: make([]int32, n), near: make([]derivSum, n),
	}
	for f := range bins.cuts {
		w.start[f+1] = w.start[f] + bins.count(f)
	}
	return w
}

// grow makes a tree from gradient and hessian of the rows that are taken, asking only
// features in use, and adds its answers to the scores of all rows.
func (w *boostGrower) grow(rows drawnRows, use []bool, score []float64) boostTree {
	w.use, w.score, w.tree, w.split, w.right = use, score, boostTree{}, nil, nil
	w.rows = append(w.rows[:0], rows.taken...)
	var all derivSum
	for _, i := range w.rows {
		all.g += w.gradient[i]
		all.h += w.hessian[i]
	}
	hist := w.histogram(0, len(w.rows))
	w.node(0, len(w.rows), all, hist, 0)
	for _, i := range rows.left {
		w.score[i] += float64(w.tree.Value[w.leaf(i)])
	}
	return w.tree
}

// leaf is where a row that the tree was not grown from ends.
func (w *boostGrower) leaf(i int32) int {
	at := 0
	for w.tree.Feature[at] != boostLeaf {
		if s := w.split[at]; w.goesLeft(s, w.bins.bin[s.feature][i]) {
			at++
		} else {
			at = w.right[at]
		}
	}
	return at
}

// goesLeft is where a split sends a bin of its feature.
func (w *boostGrower) goesLeft(s boostSplit, bin uint8) bool {
	if int(bin) == w.bins.count(s.feature)-1 {
		return s.missingLeft
	}
	return int(bin) <= s.bin
}

// node adds the node of rows[from:to] and all below it to the tree. It gives
// the histogram back; nil means that the node must be a leaf.
func (w *boostGrower) node(from, to int, sum derivSum, hist []derivSum, depth int) {
	t := &w.tree
	at := len(t.Feature)
	t.Feature = append(t.Feature, boostLeaf)
	t.Cut = append(t.Cut, 0)
	t.Missing = append(t.Missing, 0)
	t.Value = append(t.Value, w.value(sum))
	w.split, w.right = append(w.split, boostSplit{}), append(w.right, 0)
	var best boostSplit
	if hist != nil {
		best = w.bestSplit(hist, sum)
	}
	if best.gain <= w.p.MinGain {
		w.release(hist)
		for _, i := range w.rows[from:to] {
			w.score[i] += float64(t.Value[at])
		}
		return
	}
	t.Feature[at], w.split[at] = best.feature, best
	t.Cut[at] = math.MaxFloat32 // parts missing from known
	if cuts := w.bins.cuts[best.feature]; best.bin < len(cuts) {
		t.Cut[at] = cuts[best.bin]
	}
	if best.missingLeft {
		t.Missing[at] = 1
	}
	mid := w.partition(from, to, best)
	left, right := w.childHistograms(from, mid, to, hist, depth+1)
	w.node(from, mid, best.left, left, depth+1)
	w.right[at] = len(t.Feature)
	w.node(mid, to, sum.minus(best.left), right, depth+1)
}

// boostValueStep rounds tree values: 1e-5 of log-odds is far below what the
// probabilities are printed to, and later rounds see and correct it; short
// numbers halve the model file.
const boostValueStep = 1e-5

// value is a node's Newton step −G/(H+λ), shrunk and rounded; 0 without weight.
func (w *boostGrower) value(s derivSum) float32 {
	h := s.h + w.p.L2
	if h <= 0 {
		return 0
	}
	v := -w.p.Rate * s.g / h
	// One step past the bound of a stored score would make the file unreadable.
	v = math.Max(-boostMostScore, math.Min(boostMostScore, v))
	return valueStepped(v)
}

func valueStepped(v float64) float32 { return float32(math.Round(v/boostValueStep) * boostValueStep) }

// partition orders rows[from:to] by the side they go to, otherwise as they
// were, and gives the first place of the right side.
func (w *boostGrower) partition(from, to int, s boostSplit) int {
	column := w.bins.bin[s.feature]
	mid, other := from, 0
	for _, i := range w.rows[from:to] {
		if w.goesLeft(s, column[i]) {
			w.rows[mid] = i
			mid++
		} else {
			w.spare[other] = i
			other++
		}
	}
	copy(w.rows[mid:to], w.spare[:other])
	return mid
}

// childHistograms sums the smaller side and takes it off the parent's
// histogram for the other; nil for both where no further split is allowed.
func (w *boostGrower) childHistograms(from, mid, to int, parent []derivSum, depth int) (left, right []derivSum) {
	if depth >= w.p.Depth {
		w.release(parent)
		return nil, nil
	}
	if mid-from <= to-mid {
		left, right = w.histogram(from, mid), parent
		subtract(right, left)
		return left, right
	}
	left, right = parent, w.histogram(mid, to)
	subtract(left, right)
	return left, right
}

func subtract(a, b []derivSum) {
	for i := range a {
		a[i] = a[i].minus(b[i])
	}
}

// histogram sums the derivatives of rows[from:to] per bin of every feature.
func (w *boostGrower) histogram(from, to int) []derivSum {
	rows := w.rows[from:to]
	near := w.near[:len(rows)]
	for n, i := range rows {
		near[n] = derivSum{w.gradient[i], w.hessian[i]}
	}
	hist := w.take()
	for f, column := range w.bins.bin {
		if !w.use[f] {
			continue
		}
		h := hist[w.start[f]:w.start[f+1]]
		for n, i := range rows {
			s := &h[column[i]]
			s.g += near[n].g
			s.h += near[n].h
		}
	}
	return hist
}

// take is an empty histogram, release puts one back.
func (w *boostGrower) take() []derivSum {
	if n := len(w.free); n > 0 {
		h := w.free[n-1]
		w.free = w.free[:n-1]
		clear(h)
		return h
	}
	return make([]derivSum, w.start[len(w.start)-1])
}

func (w *boostGrower) release(h []derivSum) {
	if h != nil {
		w.free = append(w.free, h)
	}
}
