package detect

// boostParams are the settings of the tree learner.
type boostParams struct {
	// Rounds is the number of rounds, one tree per class each.
	Rounds int
	// Depth is the number of questions from root to leaf at most.
	Depth int
	// Rate shrinks each tree's answer (Friedman's ν), above 0 to 1.
	Rate float64
	// L2 is added to the sum of second derivatives in a leaf; ≥ 0.
	L2 float64
	// MinLeafWeight is the least sum of second derivatives w·p·(1−p) in a leaf.
	MinLeafWeight float64
	// MinGain is what a split must gain in twice the log-loss; ≥ 0.
	MinGain float64
	// Bins is how many ranges a feature is cut into before training.
	Bins int
	// RowShare and FeatureShare are the shares of rows per round and of
	// features per tree that are looked at, above 0 to 1 (1 is all).
	RowShare, FeatureShare float64
	// Seed starts the draws of rows and features; unused when all are taken.
	Seed uint64
	// Members is how many sums of so many rounds are learned, each from a seed of
	// its own, and averaged: what one draws by chance counts for less.
	Members int
}

// defaultBoostParams are settings for tables of some thousand candidates.
//
// Rate 0.1 with 150 rounds follows Friedman (2001, section 5: small steps, ν ≤
// 0.1, and many rounds), from memory. Depth 4 lets four features act together:
// Hastie, Tibshirani and Friedman (2009, section 10.11) advise 4 to 8 leaves,
// from memory; a kind is told by more features than such trees can join, and
// depth 4 holds up to 16. MinLeafWeight 1 is four rows at even odds: a leaf
// made of fewer follows noise. L2 1 halves the step of a leaf of that least
// weight. 128 bins put a cut within 0.8 % of the rows of the best one.
// Nothing is drawn by default: all rows and features take part.
func defaultBoostParams() boostParams {
	return boostParams{
		Rounds: 150, Depth: 4, Rate: 0.1, L2: 1, MinLeafWeight: 1, MinGain: 0,
		Bins: 128, RowShare: 1, FeatureShare: 1, Seed: 1, Members: 1,
	}
}

const (
	// boostMostBins leaves one value of a byte for missing.
	boostMostBins = 255
	// boostMostDepth bounds memory: deeper trees than this are no weak learners.
	boostMostDepth = 12
	// boostMostRounds bounds the size of a model file.
	boostMostRounds = 5000
)

// validate lists all faults of the settings, nil if there are none.
func (p boostParams) validate() error {
	return checks{
		{p.Rounds >= 0 && p.Members >= 1 && p.Rounds*p.Members <= boostMostRounds, "rounds must be 0 to 5000 in all members, of which there must be one"},
		{p.Depth >= 1 && p.Depth <= boostMostDepth, "depth must be 1 to 12"},
		{p.Rate > 0 && p.Rate <= 1, "rate must be above 0 and at most 1"},
		{p.L2 >= 0 && finite(p.L2), "L2 must be finite and not negative"},
		{p.MinLeafWeight >= 0 && finite(p.MinLeafWeight), "least leaf weight must be finite and not negative"},
		{p.MinGain >= 0 && finite(p.MinGain), "least gain must be finite and not negative"},
		{p.Bins >= 2 && p.Bins <= boostMostBins, "bins must be 2 to 255"},
		{p.RowShare > 0 && p.RowShare <= 1, "share of rows must be above 0 and at most 1"},
		{p.FeatureShare > 0 && p.FeatureShare <= 1, "share of features must be above 0 and at most 1"},
	}.err("boosted trees")
}
