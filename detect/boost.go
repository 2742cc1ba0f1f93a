package detect

import (
	"math"
	"slices"
)

// boostModel is a trained sum of trees that gives each class a probability.
//
// Every class has a margin: its log prior plus one leaf value from one tree per
// round. Probabilities are the softmax of the margins over the temperature.
// Inputs are compared as float32, so that a model read back from its file
// answers with the same bits.
//
// Source: Friedman (2001), "Greedy function approximation: a gradient boosting
// machine", Annals of Statistics 29(5), algorithm 6; leaves take one Newton
// step with an L2 penalty instead of its equation 33.
type boostModel struct {
	// Version is boostVersion; a file of another version is refused.
	Version int `cbor:"version"`
	// Features are the names of the inputs in the order of x, in words.
	Features []string `cbor:"features"`
	// Classes are the names of the outputs in the order of probabilities.
	Classes []string `cbor:"classes"`
	// Base is each class's log share of the training weight.
	Base []float64 `cbor:"base"`
	// Temperature divides the margins; 1 leaves them, above 1 makes the model
	// less sure (Guo et al. 2017, section 4.2). fitTemperature finds it.
	Temperature float64 `cbor:"temperature"`
	// Flaw corrects the probability of being a flaw at all, which is one less that
	// of the first class; the classes keep their proportions. The first feature, how a
	// candidate was found, picks the correction. Empty: it is left.
	Flaw []isotonic `cbor:"flaw"`
	// Rounds holds one tree per class for each round.
	Rounds [][]boostTree `cbor:"rounds"`

	// loss is the weighted mean training log-loss of each member before the first
	// and after each round; it is not stored.
	loss []float64
}

// boostTree is a binary tree, its nodes in preorder: a split's left child is
// the next node. All slices have one entry per node.
type boostTree struct {
	_ struct{} `cbor:",toarray"` // a tree has no name for each of its lists in the file
	// Feature is the index of the feature a split looks at, boostLeaf at a leaf.
	Feature []int
	// Cut sends x < Cut left; 0 at a leaf.
	Cut []float32
	// Missing is 1 where a missing x (NaN) goes left, else 0.
	Missing []int
	// Value is what the tree would add to the margin if it ended at the node.
	// Leaves give the answer; inner nodes serve explain.
	Value []float32

	nodes []boostNode // the same by node, as link lays them out to be walked
}

// boostNode is what a walk reads of a node: side by side in memory, as a walk jumps.
type boostNode struct {
	cut         float32
	feature     int32
	right       int32 // child; the left one is the next node
	missingLeft bool
}

// boostLeaf marks a node without a split; feature indices start at 0.
const boostLeaf = -1

// next is the node that follows split i for inputs x.
func (t *boostTree) next(i int, x []float64) int {
	n := &t.nodes[i]
	v := float32(x[n.feature])
	left := v < n.cut
	if v != v { // NaN
		left = n.missingLeft
	}
	if left {
		return i + 1
	}
	return int(n.right)
}

// leaf is the node at which x ends.
func (t *boostTree) leaf(x []float64) int {
	i := 0
	for t.nodes[i].feature != boostLeaf {
		i = t.next(i, x)
	}
	return i
}

// scores are the classes' raw sums of leaves of each row, temperature not applied. All rows walk a
// tree before the next is fetched: a model is larger than a core's cache.
func (m *boostModel) scores(rows [][]float64) [][]float64 {
	out := make([][]float64, len(rows))
	for i := range rows {
		out[i] = slices.Clone(m.Base)
	}
	for _, round := range m.Rounds {
		for k := range round {
			for i, x := range rows {
				out[i][k] += float64(round[k].Value[round[k].leaf(x)])
			}
		}
	}
	return out
}

// margins are the classes' scores over the temperature, centred to sum to
// zero: Friedman's symmetric form (his equation 30). A row has one value per
// feature, NaN where it is missing; a wrong length panics.
func (m *boostModel) margins(rows ...[]float64) [][]float64 {
	for _, x := range rows {
		m.mustFit(x)
	}
	out := m.scores(rows)
	for _, s := range out {
		mean := 0.0
		for _, v := range s {
			mean += v / float64(len(s))
		}
		for k := range s {
			s[k] = (s[k] - mean) / m.Temperature
		}
	}
	return out
}

// probabilities are the classes' probabilities for x, in the order of Classes;
// they sum to 1. x is as for margins.
func (m *boostModel) probabilities(x []float64) []float64 {
	return m.probabilitiesOf([][]float64{x})[0]
}

// rowsAtOnce walk a tree together.
const rowsAtOnce = 32

// probabilitiesOf are the probabilities of many, on all cores.
func (m *boostModel) probabilitiesOf(xs [][]float64) [][]float64 {
	out := make([][]float64, len(xs))
	rows((len(xs)+rowsAtOnce-1)/rowsAtOnce, func(part int) {
		from := part * rowsAtOnce
		some := xs[from:min(from+rowsAtOnce, len(xs))]
		for i, p := range m.margins(some...) {
			softmax(p)
			m.correct(some[i], p)
			out[from+i] = p
		}
	})
	return out
}

// correct corrects the probabilities of x, in place.
func (m *boostModel) correct(x, p []float64) {
	if f := x[0]; f >= 0 && int(f) < len(m.Flaw) { // not NaN
		m.Flaw[int(f)].correct(p)
	}
}

// mustFit panics on an input of the wrong length: a programmer's mistake.
func (m *boostModel) mustFit(x []float64) {
	if len(x) != len(m.Features) {
		panic("detect: boosted trees: input and model differ in their number of features")
	}
}

// softmax turns scores into probabilities in place. The largest score is taken
// off first, so that no exponential overflows. It returns the log of the sum
// of exponentials of the scores.
func softmax(s []float64) float64 {
	top := math.Inf(-1)
	for _, v := range s {
		top = math.Max(top, v)
	}
	sum := 0.0
	for k, v := range s {
		s[k] = math.Exp(v - top)
		sum += s[k]
	}
	for k := range s {
		s[k] /= sum
	}
	return top + math.Log(sum)
}
