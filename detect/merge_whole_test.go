package detect

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hidechart/hide"
)

func strokeAt(k hide.Kind, x, p float64) hide.Defect {
	r := hide.Ring{{X: hide.MM(x), Y: 0}, {X: hide.MM(x + 4), Y: 0}, {X: hide.MM(x + 4), Y: 50}, {X: hide.MM(x), Y: 50}}
	return hide.Defect{Kind: k, Probability: p, Geometry: hide.Shape{{Outer: r}}, Area: 200, Length: 50, Width: 4}
}

func TestJoinWholes(t *testing.T) {
	out, err := merged([]hide.Defect{
		strokeAt(hide.Brand, 0, 0.7), strokeAt(hide.Brand, 15, 0.9), // 11 mm apart: one brand
		strokeAt(hide.Brand, 34, 0.3),                                // too doubtful to join
		strokeAt(hide.Brand, 200, 0.6),                               // another brand
		strokeAt(hide.Vein, 300, 0.8), strokeAt(hide.Vein, 312, 0.6), // 8 mm: a vein and its branch
		strokeAt(hide.Scratch, 500, 0.55), strokeAt(hide.Scratch, 510, 0.5), // two strokes of a scrape
		strokeAt(hide.Scar, 400, 0.8), strokeAt(hide.Scar, 406, 0.8), // scars stay apart
	})
	require.NoError(t, err)
	require.Len(t, out, 7)
	assert.Equal(t, hide.Brand, out[0].Kind)
	assert.InDelta(t, 0.9, out[0].Probability, 0)
	assert.Equal(t, 2, out[0].Count)
	assert.InDelta(t, 400, float64(out[0].Area), 1e-6)
	assert.InDelta(t, 100, float64(out[0].Length), 1e-9)
	assert.Len(t, out[0].Geometry, 2, "the strokes keep their shapes")
}

// A dark line over a light one is another flaw.
func TestWholesAreOfOneTone(t *testing.T) {
	toned := func(x, tone float64) hide.Defect {
		d := strokeAt(hide.Vein, x, 0.8)
		d.Evidence = map[string]float64{featureWords()[fTopTone]: tone}
		return d
	}
	out, err := merged([]hide.Defect{toned(0, -0.05), toned(5, 0.04), toned(10, -0.04)})
	require.NoError(t, err)
	require.Len(t, out, 2)
	assert.ElementsMatch(t, []int{2, 0}, []int{out[0].Count, out[1].Count})
}

// Bumps and folds have a light and a dark side: their tone tells nothing. Folds a hand apart are one neck's.
func TestWholesOfReliefAreOfAnyTone(t *testing.T) {
	for k, gap := range map[hide.Kind]float64{hide.Wart: 95, hide.Wrinkle: 95} {
		var found []hide.Defect
		for i, tone := range []float64{-0.05, 0.04, 0, 0.02} {
			d := strokeAt(k, float64(i)*(gap+4), 0.8)
			d.Evidence, d.Count = map[string]float64{featureWords()[fTopTone]: tone}, 1
			if i == 3 {
				d.Geometry = strokeAt(k, 600, 0).Geometry
			}
			found = append(found, d)
		}
		out, err := merged(found)
		require.NoError(t, err)
		require.Len(t, out, 2, "%s", k)
		assert.ElementsMatch(t, []int{3, 1}, []int{out[0].Count, out[1].Count})
	}
}

// What lies within a brand's figure is the brand's; two scars taken for a brand
// fill too little of their hull to swallow a third.
func TestWithinBrands(t *testing.T) {
	stain := strokeAt(hide.Stain, 5.5, 0.6)
	out, err := merged([]hide.Defect{strokeAt(hide.Brand, 0, 0.9), strokeAt(hide.Brand, 11, 0.8), stain})
	require.NoError(t, err)
	require.Len(t, out, 1)
	assert.Equal(t, hide.Brand, out[0].Kind)
	out, err = merged([]hide.Defect{strokeAt(hide.Brand, 0, 0.9), strokeAt(hide.Brand, 11, 0.8), strokeAt(hide.Scar, 16, 0.6), strokeAt(hide.Scar, 40, 0.6)})
	require.NoError(t, err)
	require.Len(t, out, 2, "the light flank of a stroke is the figure's, a scar beyond the reach of strokes is not")
	far := strokeAt(hide.Brand, 0, 0.8)
	far.Geometry = hide.Shape{{Outer: hide.Ring{{X: 15, Y: 0}, {X: 100, Y: 0}, {X: 100, Y: 3}, {X: 15, Y: 3}}}}
	far.Area = far.Geometry.Area()
	out, err = merged([]hide.Defect{strokeAt(hide.Brand, 0, 0.9), far, strokeAt(hide.Wart, 25, 0.6)})
	require.NoError(t, err)
	require.Len(t, out, 2)
}

// Beside dark strokes second derivatives answer on their light rims: a smaller figure of the other tone is the larger one's.
func TestRimsAreTheBrands(t *testing.T) {
	toned := func(x, tone float64) hide.Defect {
		d := strokeAt(hide.Brand, x, 0.9)
		d.Evidence = map[string]float64{featureWords()[fTopTone]: tone}
		return d
	}
	dark := []hide.Defect{toned(0, -0.1), toned(11, -0.1), toned(22, -0.1)}
	out, err := merged(append([]hide.Defect{toned(5, 0.1), toned(16, 0.1)}, dark...))
	require.NoError(t, err)
	require.Len(t, out, 1)
	assert.Equal(t, 3, out[0].Count)
	out, err = merged(append([]hide.Defect{toned(80, 0.1), toned(91, 0.1)}, dark...))
	require.NoError(t, err)
	assert.Len(t, out, 2, "a light brand that lies beyond it")
}

// A scar across a cluster parts its spots: they are one cluster still, and all of them are counted.
func TestClustersAreJoined(t *testing.T) {
	cluster := func(k hide.Kind, x float64, spots int) hide.Defect {
		d := strokeAt(k, x, 0.9)
		d.Count = spots
		return d
	}
	out, err := merged([]hide.Defect{
		cluster(hide.Wart, 0, 3), cluster(hide.Wart, 50, 2), // 46 mm apart
		cluster(hide.Wart, 160, 1),                               // 106 mm: another
		cluster(hide.Bites, 300, 5), cluster(hide.Bites, 366, 4), // 62 mm apart
	})
	require.NoError(t, err)
	require.Len(t, out, 3)
	assert.Equal(t, 9, out[0].Count)
	assert.Equal(t, 5, out[1].Count)
	assert.InDelta(t, 54, float64(out[1].Length), 1e-6, "of the whole cluster")
	assert.InDelta(t, 50, float64(out[1].Width), 1e-6)
	assert.Equal(t, 1, out[2].Count)
}

// Letters of 50 mm that stand 30 mm apart are one iron's; one 40 mm away from them is another brand.
func TestFiguresOfOneIron(t *testing.T) {
	out, err := merged([]hide.Defect{
		strokeAt(hide.Brand, 0, 0.7), strokeAt(hide.Brand, 14, 0.9), strokeAt(hide.Brand, 48, 0.8), strokeAt(hide.Brand, 92, 0.6),
		strokeAt(hide.Vein, 300, 0.7), strokeAt(hide.Vein, 334, 0.6),
	})
	require.NoError(t, err)
	require.Len(t, out, 4)
	assert.Equal(t, 3, out[0].Count)
	assert.InDelta(t, 150, float64(out[0].Length), 1e-9)
	assert.InDelta(t, 600, float64(out[0].Area), 1e-6)
}

// Strokes in a loose area are its ripples unless they are surer than it.
func TestStrokesInLooseAreasAreRipples(t *testing.T) {
	loose := strokeAt(hide.Loose, 0, 0.9)
	loose.Geometry = hide.Shape{{Outer: hide.Ring{at(-100, -100), at(200, -100), at(200, 200), at(-100, 200)}}}
	loose.Area = loose.Geometry.Area()
	out, err := merged([]hide.Defect{loose, strokeAt(hide.Brand, 0, 0.8), strokeAt(hide.Brand, 120, 0.95), strokeAt(hide.Brand, 300, 0.8), strokeAt(hide.Scar, 60, 0.8)})
	require.NoError(t, err)
	require.Len(t, out, 4)
	for _, d := range out {
		assert.False(t, d.Kind == hide.Brand && boxOf(d.Geometry).left == 0)
	}
}
