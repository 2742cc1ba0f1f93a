package detect

import "math"

// reliabilityBins is the ten of the usual reliability diagram.
const reliabilityBins = 10

// reliabilityBin is one bar of a reliability diagram: candidates whose
// probability lies in the same tenth.
type reliabilityBin struct {
	// Weight is the sum of the candidates' weights; 0 if there are none.
	Weight float64
	// Said is their mean probability, Seen the share that came true.
	Said, Seen float64
}

// reliability sorts probabilities into ten bins of equal width, the last with
// its upper end, and compares what was said with what was seen. weight nil
// counts all alike.
func reliability(prob []float64, hit []bool, weight []float64) [reliabilityBins]reliabilityBin {
	var bins [reliabilityBins]reliabilityBin
	for i, p := range prob {
		w := 1.0
		if weight != nil {
			w = weight[i]
		}
		b := &bins[max(0, min(reliabilityBins-1, int(p*reliabilityBins)))]
		b.Weight += w
		b.Said += w * p
		if hit[i] {
			b.Seen += w
		}
	}
	for i := range bins {
		if b := &bins[i]; b.Weight > 0 {
			b.Said /= b.Weight
			b.Seen /= b.Weight
		}
	}
	return bins
}

// expectedCalibrationError is the mean distance between what was said and what
// was seen over the ten bins, weighted by their content: 0 is perfect, 1 is
// always wrong. 0 without rows. Source: Guo et al. (2017), equation 3.
func expectedCalibrationError(prob []float64, hit []bool, weight []float64) float64 {
	sum, all := 0.0, 0.0
	for _, b := range reliability(prob, hit, weight) {
		sum += b.Weight * math.Abs(b.Said-b.Seen)
		all += b.Weight
	}
	if all == 0 {
		return 0
	}
	return sum / all
}

// topClass are the largest probability of each row and whether that class was
// the right one: the confidence and accuracy of Guo et al. (2017), section 2.
// Of equals the first class is taken.
func topClass(prob [][]float64, y []int) (top []float64, hit []bool) {
	for i, p := range prob {
		best := 0
		for k, v := range p {
			if v > p[best] {
				best = k
			}
		}
		top, hit = append(top, p[best]), append(hit, best == y[i])
	}
	return top, hit
}
