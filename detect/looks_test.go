package detect

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hidechart/hide"
)

// gaussianProfile is across a mark of colour, shadedProfile across a ridge lit from its right: minus
// the ridge's derivative.
func gaussianProfile(depth, sigma float64) []float64 {
	p := make([]float64, profileSize())
	for k := range p {
		d := profileStep*float64(k) - profileReach
		p[k] = depth * math.Exp(-d*d/(2*sigma*sigma))
	}
	return p
}

func shadedProfile(height, sigma float64) []float64 {
	p := gaussianProfile(height, sigma)
	for k := range p {
		p[k] *= (profileStep*float64(k) - profileReach) / (sigma * sigma)
	}
	return p
}

// By hand: of profiles a and b the share in common is |a+b|²/4 over (|a|²+|b|²)/2.
func TestCommonOfProfiles(t *testing.T) {
	dark, ridge := gaussianProfile(-0.1, 1.2), shadedProfile(0.2, 1.2)
	other := shadedProfile(-0.2, 1.2)
	assert.InDelta(t, 1, common([][]float64{dark, dark, dark}, 1.5), 1e-9, "colour is the same under each lamp")
	assert.InDelta(t, 0, common([][]float64{ridge, other}, 1.5), 1e-9, "opposite lamps")
	assert.InDelta(t, 0.5, common([][]float64{dark, make([]float64, profileSize())}, 1.5), 1e-9, "a quarter over a half")
	assert.True(t, math.IsNaN(common([][]float64{dark}, 1.5)), "one light has nothing to share")
}

// An even function has no odd part and an odd one, about its zero, no even one; about the peak of
// one flank half of an odd pair is left over on one side.
func TestBalanceOfProfile(t *testing.T) {
	assert.InDelta(t, 1, balance(gaussianProfile(-0.1, 1.2), 1.5), 1e-9)
	assert.Less(t, balance(shadedProfile(0.2, 1.2), 1.5), 0.7)
	aside := gaussianProfile(-0.1, 1.2)
	copy(aside[2:], aside[:len(aside)-2]) // followed 1 mm beside its middle
	assert.InDelta(t, 1, balance(aside, 1.5), 0.01)
}

// What is as steep beside the border as across it is no border, at any slope.
func TestStepOverSlope(t *testing.T) {
	tone := func(f func(x, y float64) float64) rim {
		s := surfaceOf(t, leatherScene{0.005, map[hide.Light]func(x, y float64) float64{hide.Top: f}}.input(t))
		return s.rimOf(disc(at(200, 150), 25))
	}
	far := func(x, y float64) float64 { return math.Hypot(x-200, y-150) }
	step := tone(func(x, y float64) float64 { return -0.05 / (1 + math.Exp((far(x, y)-25)/0.5)) })
	cone := tone(func(x, y float64) float64 { return 0.05 / 8 * math.Min(far(x, y)-50, 0) }) // as much over the same 8 mm
	assert.InDelta(t, step.step, cone.step, 0.01)
	assert.Greater(t, step.clear, 10.0)
	assert.Less(t, math.Abs(cone.clear), 4.0, "grain alone: of the order of a Student's t")
	assert.Greater(t, step.sharp, 0.6)
	assert.Less(t, cone.sharp, 0.5, "3 of 8 mm")
}

// Every rimStep along a square of 30 mm, looking out of it.
func TestCrossings(t *testing.T) {
	c := crossings(hide.Ring{at(0, 0), at(30, 0), at(30, 30), at(0, 30)})
	assert.Len(t, c, 40)
	assert.Equal(t, at(0, -4), c[0].off(4))
	assert.Equal(t, at(3, 4), c[1].off(-4))
	assert.Equal(t, at(34, 0), c[10].off(4))
}

// A line's features say which it is: the same dark stroke under three lights, or a ridge that two
// crossed lamps shade; under one light there is nothing to compare.
func TestLineInCommon(t *testing.T) {
	stands := func(tone map[hide.Light]func(x, y float64) float64) candidate {
		found, err := surfaceOf(t, leatherScene{0.003, tone}.input(t)).lineCandidates(DefaultParams())
		require.NoError(t, err)
		require.NotEmpty(t, found)
		return found[0]
	}
	dark := stroke(150, 120, 250, 180, -0.1)
	scratch := stands(map[hide.Light]func(x, y float64) float64{hide.Top: dark, hide.RakeE: dark, hide.RakeN: dark})
	ridge := func(angle float64) float64 {
		return stands(map[hide.Light]func(x, y float64) float64{hide.Top: plain,
			hide.RakeE: shaded(angle, 0.15, 1, 0), hide.RakeN: shaded(angle, 0.15, 0, 1)}).x[fCommon]
	}
	assert.Greater(t, scratch.x[fCommon], 0.9)
	assert.Greater(t, scratch.x[fBalance], 0.9)
	assert.Less(t, ridge(math.Pi/4), 0.1, "one lamp on each side")
	assert.InDelta(t, 2.0/3, ridge(3*math.Pi/4), 0.05, "both lamps on one side: (2a)²/9 over 2a²/3, top shows nothing")
	assert.Less(t, ridge(0), 0.4, "along one lamp: a²/9 over a²/3")
	alone := stands(map[hide.Light]func(x, y float64) float64{hide.Top: dark})
	assert.True(t, math.IsNaN(alone.x[fCommon]))
}

// A disc fills its convex hull; an L of three squares six sevenths of it.
func TestAreaFillsItsHull(t *testing.T) {
	s := surfaceOf(t, leatherScene{0.005, map[hide.Light]func(x, y float64) float64{hide.Top: plain}}.input(t))
	filled := func(r hide.Ring) float64 {
		return s.areaCandidate(candidate{form: patchForm, shape: hide.Shape{{Outer: r}}, x: newFeatures()}).x[fSolid]
	}
	assert.InDelta(t, 1, filled(disc(at(200, 150), 25)), 0.01)
	ell := hide.Ring{at(180, 130), at(220, 130), at(220, 150), at(200, 150), at(200, 170), at(180, 170)}
	assert.InDelta(t, 1200.0/1400, filled(ell), 1e-9) // three squares of 20 mm; the hull adds half of the fourth
}
