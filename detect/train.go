package detect

import (
	"math"

	"hidechart/hide"
)

// Sample is a candidate whose truth is known.
type Sample struct {
	Article  string    // candidates of one article are kept together when judging
	Features []float64 // as of Candidates
	Kind     hide.Kind // of the flaw it lies on; empty: of none
	Real     bool      // whether it counts as real when probabilities are judged: it may cover flaws and yet have no kind of its own
}

// TrainReport says how well articles left out were sorted.
type TrainReport struct {
	Samples          int
	Folds            int
	LogLoss          float64 // mean negative log likelihood of kind or none, out of fold, before the correction
	KindRight        float64 // share of flaws given their kind, out of fold
	CalibrationError float64 // of the probability of being a flaw, ten bins, harmless ones by harmlessWeight
	Temperature      float64
}

// Train fits the sorting model and judges it by leaving articles out. The same
// samples give the same bytes.
func Train(samples []Sample) ([]byte, TrainReport, error) {
	t := tableOf(samples)
	p := sortingParams()
	folds := min(trainFolds, distinct(t.groups))
	prob, err := crossValidate(t.groups, folds, featureWords(), t.classes, t.x, t.y, nil, p)
	if err != nil {
		return nil, TrainReport{}, err
	}
	temperature, err := fitTemperature(prob, t.y, nil)
	if err != nil {
		return nil, TrainReport{}, err
	}
	m, err := trainBoost(featureWords(), t.classes, t.x, t.y, nil, p)
	if err != nil {
		return nil, TrainReport{}, err
	}
	m.Temperature = temperature
	tempered(prob, temperature)
	fold, err := groupFolds(t.groups, folds)
	if err != nil {
		return nil, TrainReport{}, err
	}
	if m.Flaw, err = fitFlaw(prob, t, func(int) bool { return true }); err != nil {
		return nil, TrainReport{}, err
	}
	report := TrainReport{Samples: len(t.x), Folds: folds, Temperature: temperature, LogLoss: logLoss(prob, t.y, nil)}
	if err := correctFolds(prob, t, fold, folds); err != nil {
		return nil, TrainReport{}, err
	}
	report.KindRight, report.CalibrationError = judged(prob, t)
	data, err := m.encode()
	return data, report, err
}

// table holds samples as the learner takes them.
type table struct {
	classes []string
	x       [][]float64
	y       []int    // class
	real    []bool   // what its probability is of
	groups  []string // article
}

func tableOf(samples []Sample) table {
	t := table{classes: []string{harmless}}
	for _, k := range hide.Kinds() {
		if k != hide.Hole {
			t.classes = append(t.classes, string(k))
		}
	}
	index := map[string]int{}
	for i, c := range t.classes {
		index[c] = i
	}
	for _, s := range samples {
		name := string(s.Kind)
		if name == "" || (name != string(hide.Hole) && !form(s.Features[fForm]).shows(s.Kind)) {
			name = harmless
		}
		k, ok := index[name]
		if !ok {
			continue // a hole's rim: the outline has holes
		}
		t.x, t.y = append(t.x, s.Features), append(t.y, k)
		t.real, t.groups = append(t.real, s.probable(k)), append(t.groups, s.Article)
	}
	return t
}

// probable is whether the probability of a candidate of that class is one of this event. A
// line or a group of spots is real as charts are judged. An area must be a flaw by itself:
// one that covers a scar with a tenth of itself is real, and would take good leather with it.
func (s Sample) probable(class int) bool {
	switch form(s.Features[fForm]) {
	case lineForm, spotForm:
		return s.Real
	}
	return class != 0
}

// sortingParams of the trees, chosen by log loss on articles left out: against
// the defaults, small steps on half of the rows and a third of the features lower
// it from 0.66 to 0.63 and raise the share of right kinds from 0.50 to 0.54
// (Friedman 2002, "Stochastic gradient boosting", says why).
func sortingParams() boostParams {
	p := defaultBoostParams()
	p.Rate, p.Rounds, p.Depth, p.MinLeafWeight, p.L2, p.RowShare, p.FeatureShare = 0.04, 160, 6, 2, 2, 0.5, 0.3
	return p
}

// tempered divides the log-probabilities by a temperature, in place.
func tempered(prob [][]float64, temperature float64) {
	for _, p := range prob {
		for k, v := range p {
			p[k] = math.Log(math.Max(v, leastProbability)) / temperature
		}
		softmax(p)
	}
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

// judged returns the share of flaws given their kind and the calibration error.
func judged(prob [][]float64, t table) (kindRight, calibrationError float64) {
	var flaw, weight []float64
	var right, flaws float64
	for i, p := range prob {
		flaw, weight = append(flaw, 1-p[0]), append(weight, weightOf(t.real[i]))
		if t.y[i] == 0 {
			continue
		}
		best := 1
		for k := 2; k < len(p); k++ {
			if p[k] > p[best] {
				best = k
			}
		}
		flaws++
		if best == t.y[i] {
			right++
		}
	}
	return right / max(flaws, 1), expectedCalibrationError(flaw, t.real, weight)
}
