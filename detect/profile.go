package detect

import (
	"encoding/json"
	"math"
	"slices"

	"hidechart/hide"
)

// ProfileFormat names the version of a profile file.
const ProfileFormat = "hidechart profile 1"

// Profile is what reviews of one article taught: a correction of the log-odds
// that a candidate is a flaw, linear in what was measured of it. It applies to that
// article alone.
type Profile struct {
	Format  string   `json:"format"`
	Article string   `json:"article"`
	Hides   int      `json:"hides"`
	Decided int      `json:"decided"` // candidates confirmed or rejected
	Active  bool     `json:"active"`  // false: too few hides, or no gain on hides left out; then nothing changes
	Why     string   `json:"why"`     // in words, whether and why it is active
	Charts  []string `json:"charts"`  // ids of the hides, sorted

	Bias  float64        `json:"bias"`  // added to the log-odds
	Slope float64        `json:"slope"` // of the log-odds as sorted, beyond 1
	Terms []ProfileTerm  `json:"terms"`
	Gain  ProfileFigures `json:"after"`  // on hides left out, with the profile
	Was   ProfileFigures `json:"before"` // the same candidates without
	Steps []ProfilePrior `json:"priors"` // the priors tried
}

// ProfileTerm is the part of one feature: Weight × (value − Mean) / SD, and 0
// where the feature does not apply.
type ProfileTerm struct {
	Feature string  `json:"feature"`
	Mean    float64 `json:"mean"`
	SD      float64 `json:"sd"`
	Weight  float64 `json:"weight"`
}

// ProfileFigures say how the reviewed candidates were sorted.
type ProfileFigures struct {
	LogLoss   float64 `json:"log_loss"`  // mean, natural logarithm
	False     int     `json:"false"`     // rejected ones at or above the threshold
	Real      int     `json:"real"`      // confirmed ones at or above it
	Threshold float64 `json:"threshold"` // 0.5 before; after, where as many real ones are kept
}

// ProfilePrior is a width of the prior tried, and the log loss it gave on hides
// left out.
type ProfilePrior struct {
	SD      float64 `json:"sd"`
	LogLoss float64 `json:"log_loss"`
}

// probability corrects that of a candidate.
func (p *Profile) probability(as float64, evidence map[string]float64) float64 {
	if !p.Active {
		return as
	}
	z := logit(as)
	sum := z + p.Bias + p.Slope*z
	for _, t := range p.Terms {
		if v, ok := evidence[t.Feature]; ok {
			sum += t.Weight * t.standard(v)
		}
	}
	return logistic(sum)
}

// farthest a feature counts, in spreads: beyond what was reviewed nothing was
// learned.
const farthest = 3

func (t ProfileTerm) standard(v float64) float64 {
	return min(max((compressed(v)-t.Mean)/t.SD, -farthest), farthest)
}

// compressed tames features that range over decades, as lengths and areas do,
// and keeps the sign: the inverse hyperbolic sine is linear near 0 and a logarithm
// far off.
func compressed(v float64) float64 { return math.Asinh(v) }

// leastOdds keeps log-odds finite: probabilities are known to a thousandth.
const leastOdds = 0.0005

func logit(p float64) float64 {
	p = min(max(p, leastOdds), 1-leastOdds)
	return math.Log(p / (1 - p))
}

func logistic(z float64) float64 { return 1 / (1 + math.Exp(-z)) }

// Check says what is wrong with a profile read from a file. Error: Invalid.
func (p *Profile) Check() error {
	bad := func(v ...float64) bool {
		return slices.ContainsFunc(v, func(x float64) bool { return math.IsNaN(x) || math.IsInf(x, 0) })
	}
	switch {
	case p.Format != ProfileFormat:
		return hide.Faultf(hide.Invalid, "profile: format %q, want %q", p.Format, ProfileFormat)
	case p.Article == "":
		return hide.Faultf(hide.Invalid, "profile: no article")
	case bad(p.Bias, p.Slope):
		return hide.Faultf(hide.Invalid, "profile of %s: a number is not finite", p.Article)
	}
	for _, t := range p.Terms {
		if bad(t.Mean, t.SD, t.Weight) || t.SD <= 0 {
			return hide.Faultf(hide.Invalid, "profile of %s: feature %q: spread must be positive and all finite", p.Article, t.Feature)
		}
	}
	return nil
}

// DecodeProfile reads a profile. Errors: Invalid.
func DecodeProfile(data []byte) (*Profile, error) {
	p := new(Profile)
	if err := json.Unmarshal(data, p); err != nil {
		return nil, hide.Wrapf(hide.Invalid, err, "profile")
	}
	return p, p.Check()
}

// ProfileFor is the profile of an article; nil if there is none.
func ProfileFor(article string, all []*Profile) *Profile {
	for _, p := range all {
		if p.Article == article && article != "" {
			return p
		}
	}
	return nil
}
