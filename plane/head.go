package plane

import "math"

// endSigns is what an end of the backbone shows of being the neck or the
// tail, seen on one half, the end at knot 0. All are pure numbers.
type endSigns [signs]float64

const (
	signLeg    = iota // how far from the end the first leg stands, of the length; NaN: no leg seen
	signBlunt         // half-width close to the end, of the body's
	signHollow        // how far the contour between end and leg stays inside the straight line, of the body's half-width
	signMass          // mean half-width of the quarter at the end, of the body's
	signReach         // how far the leg stands out of the body, of the length; NaN: no leg
	signs
)

// Where the signs are read.
const (
	legSearch   = 0.34  // a leg stands nearer to its end than that; what bulges farther in is belly
	legLeast    = 0.035 // of the length: less is a bulge of the belly, not a leg
	bluntAt     = 0.03  // behind the ragged corner, before the neck widens
	hollowFrom  = 0.02
	hollowNoLeg = 0.22 // where a fore leg stands when none is seen
	massTo      = 0.25
)

func readSigns(h *halfProfile, length float64, tailFirst bool) endSigns {
	at := func(v *[knots]float64, u float64) float64 {
		if tailFirst {
			u = 1 - u
		}
		return sampleAt(v, u)
	}
	width := h.width
	s := endSigns{signLeg: math.NaN(), signReach: math.NaN()}
	leg, out := hollowNoLeg, legLeast*length
	for u := 0.0; u <= legSearch; u += 1.0 / (knots - 1) {
		if d := at(&h.reach, u) - at(&h.body, u); d > out {
			leg, out = u, d
			s[signLeg], s[signReach] = u, d/length
		}
	}
	s[signBlunt] = min(1, at(&h.reach, bluntAt)/width)
	a, b := at(&h.body, hollowFrom), at(&h.body, leg)
	const steps = 20
	for i := range steps {
		t := (float64(i) + 0.5) / steps
		s[signHollow] += (a + (b-a)*t - at(&h.body, hollowFrom+(leg-hollowFrom)*t)) / width / steps
		s[signMass] += at(&h.body, massTo*t) / width / steps
	}
	return s
}

// headWeights turn the differences of the signs between the two ends into
// log-odds that the first is the neck. Fitted by ridge logistic regression on invented
// contours varied far beyond the shared captures (see the test of the
// distribution), then rounded. Mass and reach tell nothing that the others do
// not (log loss 0.171 without them, 0.164 with them on 400 contours) and rest at 0.
func headWeights() endSigns {
	return endSigns{signLeg: 30, signBlunt: 4.8, signHollow: 13}
}

// headLimit bounds the log-odds: contours outside of what the weights were
// fitted on are known to exist, so no shape is surer than 0.98.
const headLimit = 3.9

// headOdds is the log-odds that the end at u = 0 is the neck, from the halves
// that there are. Swapping the ends changes its sign exactly.
func headOdds(halves []*halfProfile, length float64) float64 {
	weights, diff := headWeights(), signDifference(halves, length)
	var odds float64
	for i, w := range weights {
		odds += w * diff[i]
	}
	return min(headLimit, max(-headLimit, odds))
}

// signDifference is first end less last, averaged over the halves; a sign not
// seen at both ends says nothing.
func signDifference(halves []*halfProfile, length float64) endSigns {
	var first, last, diff endSigns
	var n, m endSigns
	for _, h := range halves {
		a, b := readSigns(h, length, false), readSigns(h, length, true)
		for i := range signs {
			if !math.IsNaN(a[i]) {
				first[i], n[i] = first[i]+a[i], n[i]+1
			}
			if !math.IsNaN(b[i]) {
				last[i], m[i] = last[i]+b[i], m[i]+1
			}
		}
	}
	for i := range signs {
		if n[i] > 0 && m[i] > 0 {
			diff[i] = first[i]/n[i] - last[i]/m[i]
		}
	}
	return diff
}

func logistic(x float64) float64 { return 1 / (1 + math.Exp(-x)) }
