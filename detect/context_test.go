package detect

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hidechart/hide"
)

func lineCandidateOf(points ...hide.Point) candidate {
	c := candidate{form: lineForm, line: points, shape: hide.Shape{{Outer: hide.Ring(points)}}, x: newFeatures()}
	return c
}

func areaOf(x, y, side float64) candidate {
	return candidate{form: patchForm, x: newFeatures(),
		shape: hide.Shape{{Outer: hide.Ring{at(x, y), at(x+side, y), at(x+side, y+side), at(x, y+side)}}}}
}

// Gaps by hand: two strokes 20 mm apart, one that crosses, one far away, an area around them.
func TestNeighboursOf(t *testing.T) {
	found := []candidate{
		lineCandidateOf(at(0, 0), at(50, 0), at(100, 0)),
		lineCandidateOf(at(0, 20), at(50, 20), at(100, 20)),
		lineCandidateOf(at(50, -30), at(50, 0), at(50, 30)),
		lineCandidateOf(at(0, 500), at(100, 500)),
		areaOf(-20, -20, 140),
	}
	near := neighboursOf(found)
	gaps := func(i int) map[int]float64 {
		out := map[int]float64{}
		for _, n := range near[i] {
			out[n.At] = float64(n.Gap)
		}
		return out
	}
	assert.Equal(t, map[int]float64{1: 20, 2: 0, 4: 0}, gaps(0))
	assert.Contains(t, gaps(4), 1, "what lies in an area is near it")
	assert.Empty(t, near[3], "nothing within 60 mm")
	for i, all := range near {
		for _, n := range all {
			assert.InDelta(t, gaps(n.At)[i], float64(n.Gap), 1e-9, "a gap is the same from both sides")
		}
	}
}

// Two neighbours 15 mm apart and a third far away on half a square metre: a neighbour counts
// 1/e, and oneself not at all.
func TestAddContext(t *testing.T) {
	kinds := contextKinds()
	x := [][]float64{newFeatures(), newFeatures(), newFeatures()}
	prob := make([][]float64, 3)
	for i, sure := range []float64{0.9, 0.6, 0.3} {
		prob[i] = make([]float64, len(kinds)+1)
		prob[i][0], prob[i][1+i] = 1-sure, sure
	}
	addContext(x, [][]Neighbour{{{1, contextFade}}, {{0, contextFade}}, nil}, prob, 0.5)
	at := func(i, k int) float64 { return x[i][lookCount+k] }
	assert.InDelta(t, 0.6/math.E, at(0, 1), 1e-9)
	assert.InDelta(t, 0.9/math.E, at(1, 0), 1e-9)
	assert.Zero(t, at(0, 0), "a candidate is not its own company")
	assert.Zero(t, at(2, 0)+at(2, 1))
	assert.InDelta(t, 0.6/0.5, at(0, len(kinds)+1), 1e-9)
	assert.Zero(t, at(0, len(kinds)))
	assert.InDelta(t, 0.9/0.5, at(2, len(kinds)), 1e-9)
	assert.Len(t, contextWords(), len(x[0])-lookCount)
}

// Lines that differ in tone are no company of one another; spots and areas are.
func TestSameTone(t *testing.T) {
	toned := func(f form, tone float64) []float64 {
		x := newFeatures()
		set(x, fForm, float64(f))
		set(x, fTopTone, tone)
		return x
	}
	dark, light := toned(lineForm, -0.05), toned(lineForm, 0.05)
	assert.InDelta(t, 1, sameTone(dark, dark), 1e-9)
	assert.Less(t, sameTone(dark, light), 0.05)
	assert.InDelta(t, 1-0.025/(0.075+grainTone), sameTone(dark, toned(lineForm, -0.025)), 1e-9)
	assert.Greater(t, sameTone(toned(lineForm, 0.0005), toned(lineForm, -0.0005)), 0.8, "of the grain's own tone")
	assert.InDelta(t, 1, sameTone(dark, toned(patchForm, 0.05)), 0)
	assert.InDelta(t, 1, sameTone(dark, toned(lineForm, math.NaN())), 0, "no top light")
}

// Company changes what a line is, and not what an area is.
func TestAreasAreSortedAlone(t *testing.T) {
	s, err := sortingModel()
	require.NoError(t, err)
	for f := range formCount {
		x := newFeatures()
		set(x, fForm, float64(f))
		before := s.probabilities([][]float64{x})
		for k := lookCount; k < len(x); k++ {
			x[k] = 5
		}
		if isArea(x) {
			assert.Equal(t, before, s.probabilities([][]float64{x}), f)
		} else {
			assert.NotEqual(t, before, s.probabilities([][]float64{x}), f)
		}
	}
}

func TestSorterFile(t *testing.T) {
	s, err := sortingModel()
	require.NoError(t, err)
	data, err := s.encode()
	require.NoError(t, err)
	again, err := loadSorter(data)
	require.NoError(t, err)
	x := newFeatures()
	x[fForm] = float64(lineForm)
	assert.Equal(t, s.probabilities([][]float64{x}), again.probabilities([][]float64{x}))

	half, err := sorter{Company: s.Company}.encode()
	require.NoError(t, err)
	swapped, err := sorter{Alone: s.Company, Company: s.Alone}.encode()
	require.NoError(t, err)
	for _, bad := range [][]byte{half, swapped, {0xa0}, {0x80}, {0x81}} { // an empty map, an empty list, a list cut short
		_, err := loadSorter(bad)
		assert.Error(t, err)
	}
}
