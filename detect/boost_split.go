package detect

// boostSplit is a question at a node: bins up to bin go left.
type boostSplit struct {
	feature, bin int
	missingLeft  bool
	left         derivSum
	gain         float64
}

// bestSplit is the question that lowers the penalised second-order loss most;
// gain 0 if none lowers it. Of equals the first feature and lowest bin win.
//
// The gain is G²/(H+λ) of both sides less that of the whole: twice the fall of
// the loss's quadratic model at its minimum.
func (w *boostGrower) bestSplit(hist []derivSum, sum derivSum) boostSplit {
	var best boostSplit
	whole := w.merit(sum)
	for f, use := range w.use {
		if !use {
			continue
		}
		h := hist[w.start[f]:w.start[f+1]]
		miss := h[len(h)-1]
		values := h[:len(h)-1]
		// Sums left over from subtraction are no rows: 1e-9 is far above
		// rounding and far below the least row.
		some := w.bins.missing[f] && miss.h > 1e-9*sum.h
		w.scan(&best, f, values, derivSum{}, sum, whole, some)
		if some {
			w.scan(&best, f, values[:len(values)-1], miss, sum, whole, true)
		} else if best.feature == f && best.gain > 0 {
			// Nothing to learn from: a missing value follows the heavier side.
			best.missingLeft = best.left.h > sum.h-best.left.h
		}
	}
	return best
}

// scan tries the borders of feature f that follow each of values. left holds
// the missing rows if they go left, else nothing. some says that the node has
// missing rows: then the border after the last value, which parts missing from
// known, is tried too.
func (w *boostGrower) scan(best *boostSplit, f int, values []derivSum, left, sum derivSum, whole float64, some bool) {
	missingLeft := left != derivSum{}
	if !some {
		values = values[:len(values)-1]
	}
	for b := range values {
		left.g += values[b].g
		left.h += values[b].h
		right := sum.minus(left)
		if left.h < w.p.MinLeafWeight || right.h < w.p.MinLeafWeight {
			continue
		}
		gain := w.merit(left) + w.merit(right) - whole
		// Sums of the same rows in another order differ by rounding: a gain
		// below 1e-10 of the merit is no gain.
		if gain > best.gain && gain > 1e-10*whole {
			*best = boostSplit{f, b, missingLeft, left, gain}
		}
	}
}

// merit is G²/(H+λ); 0 without weight.
func (w *boostGrower) merit(s derivSum) float64 {
	if s.h+w.p.L2 <= 0 {
		return 0
	}
	return s.g * s.g / (s.h + w.p.L2)
}
