package score

import (
	"math"
	"math/rand/v2"
	"slices"

	"hidechart/hide"
)

// Interval is an estimate with its 95 % confidence interval.
type Interval struct {
	Value float64 `json:"value"`
	Low   float64 `json:"low"`
	High  float64 `json:"high"`
}

// Pooled is many captures judged together.
type Pooled struct {
	Captures int `json:"captures"`
	// Shares of counted things, with Wilson intervals: nil when none was counted.
	Recall       *Interval `json:"recall"`
	KindAccuracy *Interval `json:"kind_accuracy"`
	HoleRecall   *Interval `json:"hole_recall"`
	// Rates and errors, with intervals from resampling whole captures: what is
	// found on one hide is not independent of its other defects.
	FalsePerM2     *Interval `json:"false_per_m2"`
	FalseAreaShare *Interval `json:"false_area_share"`
	CalibrationErr *Interval `json:"calibration_error"`
	AreaErrorMax   float64   `json:"area_error_max"` // largest magnitude
	OutlineIoUMin  float64   `json:"outline_iou_min"`
	InventedHoles  int       `json:"invented_holes"`
}

// z95 is the 97.5 % point of the normal distribution.
const z95 = 1.959964

// resamples of the bootstrap: enough that the ends of a 95 % interval move by
// under a twentieth of its width from seed to seed (Efron & Tibshirani 1993,
// section 14.3, advise a thousand or more).
const resamples = 2000

// Pool judges captures together: counts are added before dividing, so a hide
// with more defects weighs more in the recall and a larger one in the false
// rate. The same results in the same order give the same numbers.
func Pool(results []Result) Pooled {
	p := Pooled{Captures: len(results), OutlineIoUMin: 1}
	var found, truths, right, hit, holes int
	for _, r := range results {
		found, truths = found+r.Found, truths+r.TruthDefects
		hit, holes = hit+r.HolesHit, holes+r.Holes
		for _, k := range r.ByKind {
			right += k.KindRight
		}
		p.AreaErrorMax = max(p.AreaErrorMax, math.Abs(r.AreaError))
		p.OutlineIoUMin = min(p.OutlineIoUMin, r.OutlineIoU)
		p.InventedHoles += r.InventedHoles
	}
	p.Recall, p.KindAccuracy, p.HoleRecall = Wilson(found, truths), Wilson(right, found), Wilson(hit, holes)
	p.FalsePerM2 = bootstrap(results, pooledFalseRate)
	p.FalseAreaShare = bootstrap(results, pooledFalseArea)
	p.CalibrationErr = bootstrap(results, pooledCalibration)
	return p
}

// Wilson is a share with its 95 % score interval (Wilson 1927, "Probable
// Inference, the Law of Succession, and Statistical Inference", JASA 22:209).
// Nil when of is 0.
func Wilson(hits, of int) *Interval {
	if of == 0 {
		return nil
	}
	n := float64(of)
	share := float64(hits) / n
	centre := (share + z95*z95/(2*n)) / (1 + z95*z95/n)
	half := z95 / (1 + z95*z95/n) * math.Sqrt(share*(1-share)/n+z95*z95/(4*n*n))
	return &Interval{Value: share, Low: max(centre-half, 0), High: min(centre+half, 1)}
}

func pooledFalseRate(results []Result) (float64, bool) {
	var n int
	var a hide.MM2
	for _, r := range results {
		n, a = n+r.FalseCandidates, a+r.Area
	}
	return float64(n) / squareMetres(a), a > 0
}

func pooledFalseArea(results []Result) (float64, bool) {
	var wrong, a hide.MM2
	for _, r := range results {
		wrong, a = wrong+r.FalseArea, a+r.Area
	}
	return float64(wrong / a), a > 0
}

func pooledCalibration(results []Result) (float64, bool) {
	var all []CandidateOutcome
	for _, r := range results {
		all = append(all, r.Candidates...)
	}
	_, e := calibration(all)
	if e == nil {
		return 0, false
	}
	return *e, true
}

// bootstrap is the percentile interval from resampling captures with
// replacement (Efron & Tibshirani 1993, "An Introduction to the Bootstrap",
// chapter 13). Nil when the figure is not defined; resamples where it is not are
// left out.
func bootstrap(results []Result, figure func([]Result) (float64, bool)) *Interval {
	value, ok := figure(results)
	if !ok {
		return nil
	}
	random := rand.New(rand.NewPCG(1, 2)) // fixed: the same report every time
	var seen []float64
	sample := make([]Result, len(results))
	for range resamples {
		for i := range sample {
			sample[i] = results[random.IntN(len(results))]
		}
		if v, ok := figure(sample); ok {
			seen = append(seen, v)
		}
	}
	slices.Sort(seen)
	at := func(q float64) float64 { return seen[int(q*float64(len(seen)-1)+0.5)] }
	return &Interval{Value: value, Low: at(0.025), High: at(0.975)}
}
