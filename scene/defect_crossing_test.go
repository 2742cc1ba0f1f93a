package scene

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hidechart/hide"
)

// Lines are drawn across lines, and all else of the hide stays as it was.
func TestCrossings(t *testing.T) {
	spec := Spec{Seed: 12, WidthPX: 1500}
	plain, err := TruthChart(spec)
	require.NoError(t, err)
	spec.Crossed = 0.5
	crossed, err := TruthChart(spec)
	require.NoError(t, err)
	assert.Equal(t, plain.Outline, crossed.Outline)
	count := func(all []hide.Defect) map[hide.Kind]int {
		n := map[hide.Kind]int{}
		for _, d := range all {
			n[d.Kind]++
		}
		return n
	}
	before, after := count(plain.Defects), count(crossed.Defects)
	assert.Greater(t, after[hide.Scar]+after[hide.Scratch], before[hide.Scar]+before[hide.Scratch])
	for _, k := range []hide.Kind{hide.Brand, hide.Vein, hide.Bites, hide.FlayCut, hide.Stain} {
		assert.Equal(t, before[k], after[k], k)
	}
	spec.Crossed = 1.5
	_, err = TruthChart(spec)
	assert.ErrorContains(t, err, "crossed")
}
