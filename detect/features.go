package detect

import (
	"math"
	"sync"
)

// The features of a candidate, in words; one that does not apply is missing
// (NaN). Tones are logarithms of linear light against the leather beside: 0.01
// is one percent.
const (
	fForm = iota
	fBest
	fMean
	fLeast
	fScale
	fLength
	fWidth
	fArea
	fRound
	fStraight
	fCount
	fTopTone
	fTopStep
	fRakeTone
	fRakeStep
	fBackTone
	fHue
	fSteady
	fGrain
	fAlong
	fOut
	fAcrossBackbone
	fEdgeDistance
	fParallels
	fBranches
	fTouching
	fNear
	fRelief
	fReliefShare
	fShoulder
	fRakeEven
	fBow
	fWave
	fTurn
	fNextParallel
	fBundle
	fLinesOn
	fRimStep
	fRimSteady
	fRimEven
	fRimHue
	fRimSharp
	fRimClear
	fRimDyed
	fSolid
	fBalance
	fCommon
	fOfForm
	fStronger
	fAgainstUsual
	fOddTopTone
	fOddTopStep
	fOddRakeTone
	fOddRakeStep
	fOddRelief
	fOddWidth
	fAlike
	fAlikeStronger
	fAlikeDeeper
	fGradients // the first of gradientCount
)

// lookCount features are of a candidate's looks; what follows is of its company: context.go.
const lookCount = fGradients + gradientCount

// featureWords names the features for people and for the model file; not to be changed.
var featureWords = sync.OnceValue(func() []string { return append(lookWords(), contextWords()...) })

// lookWords are those of a candidate by itself and of how it was found.
func lookWords() []string {
	return append([]string{
		"how it was found", "strongest response", "mean response, or an area's by how long its border is", "weakest member's response, or evenness of a line", "scale in mm",
		"length in mm", "width in mm", "area in mm²", "roundness", "straightness", "number of members",
		"tone under top light", "step across it under top light", "tone under raking light",
		"step across it under raking light", "tone under back light", "colour difference",
		"share of its length that agrees in tone", "grain of the hide", "place from neck to tail",
		"place from backbone to edge", "how far across the backbone it runs", "distance to the edge in mm",
		"parallel lines near", "lines that end on it", "its ends on other lines", "candidates near",
		"relief (raised +, sunk −)", "share of relief against colour", "tone beside it under top light",
		"even tone under raking light", "bow against its length", "wander in mm", "turn in radians",
		"next parallel line in mm", "like lines close by", "share of its area on lines",
		"step of tone at its border", "share of its border that agrees", "evenness of that step", "step of colour at its border",
		"share of that step within 1.5 mm", "how surely it is more than the slope beside",
		"how surely that of colour is", "share of its convex hull",
		"share of its profile alike on both sides", "share of its profiles that the lights have in common",
		"found so on the hide per m²", "of these as strong or stronger per m²", "strength against the usual of these",
		"tone under top light against the usual of these", "step under top light against the usual",
		"tone under raking light against the usual", "step under raking light against the usual",
		"relief against the usual", "width against the usual", "alike in tone, relief and width per m²",
		"as strong and alike in tone, relief and width per m²", "of its tone and as deep per m²",
	}, gradientWords()...)
}

func newFeatures() []float64 {
	x := make([]float64, lookCount+2*len(contextKinds()))
	for i := range x {
		x[i] = math.NaN()
	}
	return x
}

func set(x []float64, feature int, v float64) { x[feature] = v }
