package detect

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"hidechart/hide"
)

// looksLike is a spot of so much tone under top light, so wide and with so much evidence.
func looksLike(tone float64, width hide.MM, evidence float64) candidate {
	c := candidate{form: spotForm, width: width, evidence: evidence, x: newFeatures()}
	set(c.x, fTopTone, tone)
	set(c.x, fRelief, -1)
	set(c.x, fWidth, float64(width))
	return c
}

// Counted by hand, on 2 m²: six dark pores of one width, of tones −0.1 to −0.16, and one spot that is
// light, twice as wide as the widest and four times as strong.
func TestAlikeAll(t *testing.T) {
	var found []candidate
	for k := range 6 {
		found = append(found, looksLike(-0.1-0.012*float64(k), 4, 10+float64(k)))
	}
	found = append(found, looksLike(0.3, 8, 60))
	line := candidate{form: lineForm, width: 4, evidence: 10, x: newFeatures()}
	found = append(found, line)
	alikeAll(found, hide.FromDM2(200))

	assert.InDelta(t, 2.5, found[0].x[fAlike], 1e-12, "the five other pores")
	assert.InDelta(t, 2.5, found[0].x[fAlikeStronger], 1e-12)
	assert.InDelta(t, 1.5, found[5].x[fAlikeStronger], 1e-12, "15 against 10, 11, 12, 13 and 14: from 12 on")
	assert.InDelta(t, 1, found[5].x[fAlikeDeeper], 1e-12, "−0.160 against −0.100 to −0.148: from −0.128 on")
	assert.Zero(t, found[6].x[fAlike])
	assert.Zero(t, found[6].x[fAlikeDeeper])

	// median −0.124; deviations 0.024, 0.012, 0, 0.012, 0.024, 0.036 and 0.424: their median is 0.024
	unit := 1.4826*0.024 + 1e-3*0.124 + 1e-6
	assert.InDelta(t, 0.424/unit, found[6].x[fOddTopTone], 1e-9)
	assert.InDelta(t, 0, found[6].x[fOddRelief], 1e-12, "as sunken as all")
	assert.True(t, math.IsNaN(found[0].x[fOddRakeTone]), "none has it")
	for _, f := range []int{fOddTopTone, fAlike, fAlikeStronger, fAlikeDeeper} {
		assert.True(t, math.IsNaN(line.x[f]), "lines are left")
	}
}

// Of a few the usual cannot be told.
func TestUnusualAmongFew(t *testing.T) {
	var found []candidate
	for k := range leastAlike {
		found = append(found, looksLike(-0.1, 4+hide.MM(k), 10))
	}
	alikeAll(found, hide.FromDM2(100))
	assert.True(t, math.IsNaN(found[0].x[fOddWidth]))
}
