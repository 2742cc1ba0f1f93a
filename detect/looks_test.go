package detect

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

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
