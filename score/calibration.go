package score

import "math"

// calibration is the expected calibration error over equal bins of probability:
// the mean over candidates of |mean probability − share that is real| of their
// bin (Naeini, Cooper & Hauskrecht 2015, "Obtaining Well Calibrated
// Probabilities Using Bayesian Binning", AAAI; the name and formula as in Guo et
// al. 2017, eq. 3). A probability on a border belongs to the upper bin, 1 to the
// last. Without candidates the error is nil.
func calibration(cands []CandidateOutcome) ([]Bin, *float64) {
	out := make([]Bin, bins)
	for i := range out {
		out[i].From, out[i].To = float64(i)/bins, float64(i+1)/bins
	}
	for _, c := range cands {
		b := &out[min(max(int(c.Probability*bins), 0), bins-1)]
		b.Count++
		b.Probability += c.Probability
		b.Real += float64(count(c.Real))
	}
	var sum float64
	for i := range out {
		b := &out[i]
		if b.Count == 0 {
			continue
		}
		n := float64(b.Count)
		sum += math.Abs(b.Probability - b.Real)
		b.Probability, b.Real = b.Probability/n, b.Real/n
	}
	if len(cands) == 0 {
		return out, nil
	}
	e := sum / float64(len(cands))
	return out, &e
}
