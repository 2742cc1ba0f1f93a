package score

import "hidechart/hide"

// The rules of matching; docs/score.md explains them.
const (
	// Certain is the probability from which a candidate counts as a find: the
	// point where it is more likely a defect than not.
	Certain = 0.5

	// foundShare of a truth defect's pixels must lie near candidates. Long faint
	// lines are found in parts; under a third a person would draw it anew.
	foundShare = 0.3

	// nearCandidate is how near they must lie: four pixels of the truth raster,
	// about the width of a line defect, so a line drawn beside itself still counts.
	nearCandidate hide.MM = 2

	// nearTruth is how far from every truth a candidate must stay in all its
	// parts to count as false, and how far leather must lie to count as wrongly
	// covered: nearCandidate plus 1 mm, so nothing is both a find and false.
	nearTruth hide.MM = 3

	// holeSize is the smallest hole that must be found, as the diameter of a
	// circle of its area.
	holeSize hide.MM = 3

	// bins of the calibration error, equal in width (Guo et al. 2017, "On
	// Calibration of Modern Neural Networks", use 15; issue and table use 10).
	bins = 10
)
