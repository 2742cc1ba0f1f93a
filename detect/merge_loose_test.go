package detect

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hidechart/hide"
)

func looseBox(x, y, w, h, p float64, f form) hide.Defect {
	a, b, c, d := hide.MM(x), hide.MM(y), hide.MM(x+w), hide.MM(y+h)
	s := hide.Shape{{Outer: hide.Ring{{X: a, Y: b}, {X: c, Y: b}, {X: c, Y: d}, {X: a, Y: d}}}}
	return hide.Defect{Kind: hide.Loose, Probability: p, Geometry: s, Area: s.Area(), Evidence: map[string]float64{featureWords()[fForm]: float64(f)}}
}

// The area where the ripple's energy is risen is the flaw's, whatever ripples run out of it.
func TestLooseAreaIsTheMeasuredOne(t *testing.T) {
	out, err := joinLoose([]hide.Defect{
		looseBox(0, 0, 200, 100, 0.7, looseForm),
		looseBox(20, 40, 400, 3, 0.95, lineForm), // a ripple, or a scratch, that runs 220 mm out of it
		looseBox(30, 20, 60, 3, 0.9, lineForm),
		looseBox(205, 0, 80, 60, 0.4, patchForm),  // a cloud beside it
		looseBox(150, 80, 80, 90, 0.6, patchForm), // a sure outline of tone that runs out of it
	})
	require.NoError(t, err)
	require.Len(t, out, 2)
	assert.InDelta(t, 20000, float64(out[0].Area), 200)
	assert.InDelta(t, 0.95, out[0].Probability, 0)
	assert.InDelta(t, 4800, float64(out[1].Area), 200, "a doubtful one does not join a sure one")
}

// Without a measured area ripples that lie close are closed to one, and what runs out of it is cut off.
func TestLooseRipplesAreClosed(t *testing.T) {
	var ripples []hide.Defect
	for k := range 8 {
		ripples = append(ripples, looseBox(0, 10*float64(k), 200, 4, 0.8, lineForm))
	}
	ripples[4].Geometry[0].Outer[1].X, ripples[4].Geometry[0].Outer[2].X = 400, 400
	out, err := joinLoose(ripples)
	require.NoError(t, err)
	require.Len(t, out, 1)
	assert.InDelta(t, 200*74, float64(out[0].Area), 500)

	alone, err := joinLoose([]hide.Defect{looseBox(0, 0, 400, 4, 0.8, lineForm)})
	require.NoError(t, err)
	require.Len(t, alone, 1, "a wide enough one stays though it is narrow")
	alone, err = joinLoose([]hide.Defect{looseBox(0, 0, 100, 4, 0.8, lineForm)})
	require.NoError(t, err)
	assert.Empty(t, alone, "one ripple is a wrinkle of the skin")
}
