package detect

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hidechart/hide"
)

// Counted by hand: on 2 m² four lines of evidence 1, 2, 2 and 8 (median 2) and one area.
func TestAmongAll(t *testing.T) {
	var found []candidate
	for _, c := range []candidate{{form: lineForm, evidence: 1}, {form: lineForm, evidence: 2}, {form: lineForm, evidence: 2}, {form: lineForm, evidence: 8}, {form: patchForm, evidence: 5}} {
		c.x = newFeatures()
		found = append(found, c)
	}
	amongAll(found, hide.FromDM2(200))
	for i, want := range [][3]float64{{2, 2, math.Log(0.5)}, {2, 1.5, 0}, {2, 1.5, 0}, {2, 0.5, math.Log(4)}, {0.5, 0.5, 0}} {
		assert.InDelta(t, want[0], found[i].x[fOfForm], 1e-12)
		assert.InDelta(t, want[1], found[i].x[fStronger], 1e-12)
		assert.InDelta(t, want[2], found[i].x[fAgainstUsual], 1e-12)
	}
}

// Lines told at 0.5 that are always real and areas told at 0.5 that never are: each has its own
// correction, and spots, of which there are none, are left.
func TestFormsAreCorrectedApart(t *testing.T) {
	var s table
	var prob [][]float64
	for i := range 40 {
		x := newFeatures()
		f := lineForm
		if i%2 == 1 {
			f = looseForm
		}
		set(x, fForm, float64(f))
		s.x, s.weight = append(s.x, x), append(s.weight, 1)
		s.real, prob = append(s.real, f == lineForm), append(prob, []float64{0.5, 0.5})
	}
	c, err := fitFlaw(prob, s, func(int) bool { return true })
	require.NoError(t, err)
	assert.InDelta(t, mostSure, c[lineForm].at(0.5), 1e-12)
	for _, f := range []form{patchForm, looseForm, thinForm} {
		assert.InDelta(t, leastSure, c[f].at(0.5), 1e-12)
	}
	assert.InDelta(t, 0.5, c[spotForm].at(0.5), 1e-12)
}

// A line that covers a flaw is real whatever lies under the rest of it; an area is only if it is a
// flaw itself.
func TestWhatProbabilitiesAreOf(t *testing.T) {
	for f, want := range map[form]bool{lineForm: true, spotForm: true, patchForm: false, looseForm: false, thinForm: false} {
		x := newFeatures()
		set(x, fForm, float64(f))
		assert.Equal(t, want, Sample{Features: x, Real: true}.probable(0), f)
		assert.Equal(t, f != lineForm && f != spotForm, Sample{Features: x}.probable(1), f)
	}
}
