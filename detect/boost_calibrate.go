package detect

import (
	"cmp"
	"math"
	"slices"

	"hidechart/hide"
)

// leastProbability keeps logarithms finite; a softmax underflows near it.
const leastProbability = 1e-300

// logLoss is the weighted mean of −log of the probability given to the true
// class. prob[i] are row i's probabilities, y[i] its class; weight nil counts
// all alike.
func logLoss(prob [][]float64, y []int, weight []float64) float64 {
	return temperedLoss(prob, y, weight, 1)
}

// temperedLoss is the log-loss after all log-probabilities are multiplied by
// beta and brought back to sum 1.
func temperedLoss(prob [][]float64, y []int, weight []float64, beta float64) float64 {
	loss, sum := 0.0, 0.0
	for i, p := range prob {
		s := make([]float64, len(p))
		for k, v := range p {
			s[k] = beta * math.Log(math.Max(v, leastProbability))
		}
		own := s[y[i]]
		w := 1.0
		if weight != nil {
			w = weight[i]
		}
		loss += w * (softmax(s) - own)
		sum += w
	}
	return loss / sum
}

// mostTemperature bounds the search either way: out-of-fold margins wrong by a
// factor of twenty mean a broken model, not one to calibrate.
const mostTemperature = 20

// fitTemperature finds the temperature that makes out-of-fold probabilities
// likeliest; give it to the model trained on all rows (boostModel.Temperature).
// The order of classes does not change. Expected error: 1e-6 of its value.
// Invalid without rows.
//
// Source: Guo, Pleiss, Sun and Weinberger (2017), "On calibration of modern
// neural networks", section 4.2. The loss is convex in 1/T, so a golden section
// finds its minimum.
func fitTemperature(prob [][]float64, y []int, weight []float64) (float64, error) {
	if len(prob) == 0 || len(y) != len(prob) || (weight != nil && len(weight) != len(prob)) {
		return 0, hide.Faultf(hide.Invalid, "fit temperature: %d rows, %d classes of rows", len(prob), len(y))
	}
	const golden = 0.6180339887498949 // (√5−1)/2
	lo, hi := 1.0/mostTemperature, float64(mostTemperature)
	a, b := hi-golden*(hi-lo), lo+golden*(hi-lo)
	fa, fb := temperedLoss(prob, y, weight, a), temperedLoss(prob, y, weight, b)
	for hi-lo > 1e-7*hi {
		if fa <= fb {
			hi, b, fb = b, a, fa
			a = hi - golden*(hi-lo)
			fa = temperedLoss(prob, y, weight, a)
		} else {
			lo, a, fa = a, b, fb
			b = lo + golden*(hi-lo)
			fb = temperedLoss(prob, y, weight, b)
		}
	}
	return 2 / (lo + hi), nil
}

// isotonic is a rising function of a score in [0, 1], straight between knots
// and level outside them.
type isotonic struct {
	Score []float64 `cbor:"score"` // rising
	Value []float64 `cbor:"value"` // never falling
}

// fitIsotonic finds the rising function of score closest to hit in least
// squares, by pooling adjacent violators. Rows of equal score are joined.
// weight nil counts all alike. Invalid without rows or on unlike lengths.
//
// Source: Zadrozny and Elkan (2002), "Transforming classifier scores into
// accurate multiclass probability estimates", section 3. It needs some hundred
// rows; with fewer, or between classes, prefer fitTemperature.
func fitIsotonic(score []float64, hit []bool, weight []float64) (isotonic, error) {
	n := len(score)
	if n == 0 || len(hit) != n || (weight != nil && len(weight) != n) || slices.ContainsFunc(score, math.IsNaN) {
		return isotonic{}, hide.Faultf(hide.Invalid, "fit isotonic: %d scores, %d outcomes", n, len(hit))
	}
	order := make([]int, n)
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(score[a], score[b]) })
	var pools []isotonicPool
	for _, i := range order {
		one := isotonicPool{from: score[i], to: score[i], weight: 1}
		if weight != nil {
			one.weight = weight[i]
		}
		if hit[i] {
			one.hits = one.weight
		}
		if one.weight == 0 {
			continue
		}
		if last := len(pools) - 1; last >= 0 && pools[last].to == score[i] && pools[last].from == score[i] {
			pools[last].join(one)
			continue
		}
		pools = append(pools, one)
	}
	return knots(pooled(pools)), nil
}

// isotonicPool is a run of scores that share one value.
type isotonicPool struct{ from, to, weight, hits float64 }

func (p *isotonicPool) join(q isotonicPool) {
	p.to, p.weight, p.hits = q.to, p.weight+q.weight, p.hits+q.hits
}

func (p isotonicPool) value() float64 { return p.hits / p.weight }

// pooled joins neighbours until the values rise.
func pooled(in []isotonicPool) []isotonicPool {
	var out []isotonicPool
	for _, p := range in {
		out = append(out, p)
		for n := len(out); n > 1 && out[n-2].value() >= out[n-1].value(); n-- {
			out[n-2].join(out[n-1])
			out = out[:n-1]
		}
	}
	return out
}

// knots are the two ends of each pool.
func knots(pools []isotonicPool) isotonic {
	var c isotonic
	for _, p := range pools {
		c.Score, c.Value = append(c.Score, p.from), append(c.Value, p.value())
		if p.to > p.from {
			c.Score, c.Value = append(c.Score, p.to), append(c.Value, p.value())
		}
	}
	return c
}

// at is the calibrated value of score; the score itself if there are no knots.
func (c isotonic) at(score float64) float64 {
	if len(c.Score) == 0 {
		return score
	}
	i, hit := slices.BinarySearch(c.Score, score)
	switch {
	case hit:
		return c.Value[i]
	case i == 0:
		return c.Value[0]
	case i == len(c.Score):
		return c.Value[i-1]
	}
	t := (score - c.Score[i-1]) / (c.Score[i] - c.Score[i-1])
	return c.Value[i-1] + t*(c.Value[i]-c.Value[i-1])
}

// correct makes 1 − p[0] what the function says of it; the others keep their
// proportions.
func (c isotonic) correct(p []float64) {
	flaw := 1 - p[0]
	if len(c.Score) == 0 || flaw <= 0 {
		return
	}
	to := c.at(flaw)
	for k := range p[1:] {
		p[1+k] *= to / flaw
	}
	p[0] = 1 - to
}

// check holds knots read from a file against the rules of their form.
func (c isotonic) check() bool {
	if len(c.Score) != len(c.Value) {
		return false
	}
	for i, v := range c.Value {
		if !(v >= 0 && v <= 1) || !(c.Score[i] >= 0 && c.Score[i] <= 1) || (i > 0 && (c.Score[i] <= c.Score[i-1] || v < c.Value[i-1])) {
			return false
		}
	}
	return true
}
