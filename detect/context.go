package detect

import (
	"math"

	"hidechart/hide"
)

// What a mark is follows partly from what lies around it: one dome is a bite or a
// wart, five near one another are warts; a stroke beside scratches is a scratch. Candidates are
// therefore sorted twice: by their looks alone, and again with what their neighbours and
// the rest of the hide then seem to be (auto-context: Tu & Bai 2010, IEEE TPAMI 32(10);
// the first answers come from models that have not seen the article, as in stacking: Wolpert
// 1992, Neural Networks 5).

// contextKinds are the kinds that candidates can have.
func contextKinds() []hide.Kind {
	var out []hide.Kind
	for _, k := range hide.Kinds() {
		if k != hide.Hole {
			out = append(out, k)
		}
	}
	return out
}

// contextFade is the gap over which a neighbour's weight falls to 1/e: parts of one flaw
// lie within a finger's breadth.
const contextFade hide.MM = 15

// contextWords names the features of a candidate's company.
func contextWords() []string {
	var near, all []string
	for _, k := range contextKinds() {
		near = append(near, k.Words()+" near it")
		all = append(all, k.Words()+" on the hide per m²")
	}
	return append(near, all...)
}

// sameTone is 1 for two lines of one tone against the leather and falls to 0 for a dark one and a
// light one: parts of one flaw are of one tone, and lines that only cross mostly are not.
// Spots and areas are alike whatever their tone: lips and rims differ from what they enclose.
func sameTone(a, b []float64) float64 {
	s, t := a[fTopTone], b[fTopTone]
	if form(a[fForm]) != lineForm || form(b[fForm]) != lineForm || math.IsNaN(s+t) {
		return 1
	}
	return 1 - math.Abs(s-t)/(math.Abs(s)+math.Abs(t)+grainTone)
}

// grainTone: weaker tones than half a percent are the grain's.
const grainTone = 0.005

// addContext sets the features of company from the classes' probabilities by looks, in the
// order of classes.
func addContext(x [][]float64, near [][]Neighbour, prob [][]float64, squareMetres float64) {
	kinds := len(prob[0]) - 1
	total := make([]float64, kinds)
	for _, p := range prob {
		for k := range kinds {
			total[k] += p[k+1]
		}
	}
	for i := range x {
		around := make([]float64, kinds)
		for _, n := range near[i] {
			w := math.Exp(-float64(n.Gap/contextFade)) * sameTone(x[i], x[n.At])
			for k := range kinds {
				around[k] += w * prob[n.At][k+1]
			}
		}
		for k := range kinds {
			set(x[i], lookCount+k, around[k])
			set(x[i], lookCount+kinds+k, (total[k]-prob[i][k+1])/squareMetres)
		}
	}
}

// addCompany sets the features of company of a hide's candidates.
func (s sorter) addCompany(found []Candidate, leather hide.MM2) {
	if len(found) == 0 {
		return
	}
	x, looks, near := make([][]float64, len(found)), make([][]float64, len(found)), make([][]Neighbour, len(found))
	for i, c := range found {
		x[i], looks[i], near[i] = c.Features, c.Features[:lookCount], c.Near
	}
	addContext(x, near, s.Alone.probabilitiesOf(looks), leather.DM2()/100)
}
