package score

import (
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/hide"
)

// By hand: bin 0.2–0.3 holds 0.25 (false) and 0.25 (real): |0.25 − 0.5| = 0.25;
// bin 0.9–1 holds 0.9, 0.95 and 1, all real: mean 0.95, gap 0.05.
// Error = (2·0.25 + 3·0.05) / 5 = 0.13.
func TestCalibrationByHand(t *testing.T) {
	bins, e := calibration([]CandidateOutcome{{Probability: 0.25}, {Probability: 0.25, Real: true},
		{Probability: 0.9, Real: true}, {Probability: 0.95, Real: true}, {Probability: 1, Real: true}})
	require.InDelta(t, 0.13, *e, 1e-12)
	require.Equal(t, 2, bins[2].Count)
	require.Equal(t, 3, bins[9].Count)
	require.InDelta(t, 0.95, bins[9].Probability, 1e-12)
	_, e = calibration(nil)
	require.Nil(t, e)
}

func TestPoolAddsBeforeDividing(t *testing.T) {
	one := Result{Found: 1, TruthDefects: 2, FalseCandidates: 3, Area: 1e6, FalseArea: 2e3, AreaError: -0.004, OutlineIoU: 0.99,
		ByKind: []KindResult{{Kind: hide.Scar, KindRight: 1}}, Candidates: []CandidateOutcome{{Probability: 0.5, Real: true}}}
	two := Result{Found: 8, TruthDefects: 8, Area: 3e6, AreaError: 0.001, OutlineIoU: 0.999,
		ByKind: []KindResult{{Kind: hide.Scar, KindRight: 4}}, Candidates: []CandidateOutcome{{Probability: 0.5}}}
	p := Pool([]Result{one, two})
	require.InDelta(t, 0.9, p.Recall.Value, 1e-12)
	require.InDelta(t, 5.0/9, p.KindAccuracy.Value, 1e-12)
	require.InDelta(t, 0.75, p.FalsePerM2.Value, 1e-12)
	require.InDelta(t, 0.0005, p.FalseAreaShare.Value, 1e-12)
	require.InDelta(t, 0, p.CalibrationErr.Value, 1e-12)
	require.InDelta(t, 0.004, p.AreaErrorMax, 1e-12)
	require.InDelta(t, 0.99, p.OutlineIoUMin, 1e-12)
	require.Nil(t, p.HoleRecall)
	// resampling two hides: the rate lies between those of the one and the other
	require.InDelta(t, 0, p.FalsePerM2.Low, 1e-12)
	require.InDelta(t, 3, p.FalsePerM2.High, 1e-12)
	require.Equal(t, p, Pool([]Result{one, two}))
}
