package detect

import (
	"hidechart/hide"
)

// Sample is a candidate whose truth is known.
type Sample struct {
	Article  string    // candidates of one article are kept together when judging
	Features []float64 // as of Candidates
	Kind     hide.Kind // empty: no flaw
}

// TrainReport says how well articles left out were sorted.
type TrainReport struct {
	Samples          int
	Folds            int
	LogLoss          float64 // mean negative log likelihood, out of fold
	KindRight        float64 // share of flaws given their kind, out of fold
	CalibrationError float64 // of the probability of being a flaw, ten bins
	Temperature      float64
}

// Train fits the sorting model and judges it by leaving articles out. The same
// samples give the same bytes.
func Train(samples []Sample) ([]byte, TrainReport, error) {
	classes := []string{harmless}
	for _, k := range hide.Kinds() {
		if k != hide.Hole {
			classes = append(classes, string(k))
		}
	}
	index := map[string]int{}
	for i, c := range classes {
		index[c] = i
	}
	var x [][]float64
	var y []int
	var groups []string
	for _, s := range samples {
		name := string(s.Kind)
		if name == "" {
			name = harmless
		}
		k, ok := index[name]
		if !ok {
			continue // a hole's rim: the outline has holes
		}
		x, y, groups = append(x, s.Features), append(y, k), append(groups, s.Article)
	}
	p := defaultBoostParams()
	p.MinLeafWeight = 3
	folds := min(trainFolds, distinct(groups))
	prob, err := crossValidate(groups, folds, featureWords(), classes, x, y, nil, p)
	if err != nil {
		return nil, TrainReport{}, err
	}
	temperature, err := fitTemperature(prob, y, nil)
	if err != nil {
		return nil, TrainReport{}, err
	}
	m, err := trainBoost(featureWords(), classes, x, y, nil, p)
	if err != nil {
		return nil, TrainReport{}, err
	}
	m.Temperature = temperature
	data, err := m.encode()
	report := judged(prob, y)
	report.Samples, report.Folds, report.Temperature = len(x), folds, temperature
	return data, report, err
}

// trainFolds: with more articles than this, several are left out together.
const trainFolds = 8

func distinct(names []string) int {
	seen := map[string]bool{}
	for _, n := range names {
		seen[n] = true
	}
	return len(seen)
}

func judged(prob [][]float64, y []int) TrainReport {
	r := TrainReport{LogLoss: logLoss(prob, y, nil)}
	var flaw []float64
	var hit []bool
	var right, flaws float64
	for i, p := range prob {
		flaw, hit = append(flaw, 1-p[0]), append(hit, y[i] != 0)
		if y[i] == 0 {
			continue
		}
		best := 1
		for k := 2; k < len(p); k++ {
			if p[k] > p[best] {
				best = k
			}
		}
		flaws++
		if best == y[i] {
			right++
		}
	}
	r.KindRight = right / max(flaws, 1)
	r.CalibrationError = expectedCalibrationError(flaw, hit, nil)
	return r
}
