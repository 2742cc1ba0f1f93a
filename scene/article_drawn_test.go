package scene

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Drawn articles span what the named ones do and more, keep physical bounds, and the same seed draws the same.
func TestDrawnArticles(t *testing.T) {
	names := map[string]bool{}
	low, high, steep := 1.0, 0.0, 0.0
	for seed := range int64(300) {
		l := drawLeather(stream(seed, "leather"), DrawnArticle)
		require.Equal(t, l, drawLeather(stream(seed, "leather"), DrawnArticle))
		names[l.name] = true
		grey := (l.colour[0] + l.colour[1] + l.colour[2]) / 3
		low, high, steep = math.Min(low, grey), math.Max(high, grey), math.Max(steep, l.slope[1])
		for _, v := range slices.Concat(l.colour[:], l.pass[:], l.tint[:], l.cellMM[:], l.slope[:], l.mottleMM[:], l.substance[:]) {
			require.Positive(t, v)
		}
		require.LessOrEqual(t, slices.Max(l.colour[:]), 0.88)
		require.Less(t, l.cellMM[0], l.cellMM[1])
	}
	assert.Len(t, names, 8)
	assert.Less(t, low, 0.025)
	assert.Greater(t, high, 0.6)
	assert.Greater(t, steep, 0.16)
	for _, name := range Articles() {
		assert.False(t, names[name], name)
	}
	require.NoError(t, Spec{Article: DrawnArticle}.Validate())
	assert.ErrorContains(t, Spec{Article: "no such"}.Validate(), DrawnArticle)
}

// The depth of cells is log-normal with the spread asked for, 1 where none is.
func TestUnevenCells(t *testing.T) {
	g := grain{leather: leather{article: article{uneven: 0.5}, seed: 7}}
	var sum, square float64
	const n = 20000
	for id := range uint32(n) {
		v := math.Log(g.depth(id * 2654435761))
		sum, square = sum+v/n, square+v*v/n
	}
	assert.InDelta(t, 0, sum, 0.02)
	assert.InDelta(t, 0.5, math.Sqrt(square-sum*sum), 0.02)
	assert.InDelta(t, 1, grain{}.depth(9), 0)
}

// How flaws come out varies on drawn articles only, and within bounds.
func TestDrawnFlaws(t *testing.T) {
	var usual, crisp, scuffed int
	for seed := range int64(200) {
		l := drawLeather(stream(seed, "leather"), DrawnArticle)
		require.True(t, l.crisp >= 0 && l.crisp < 1 && l.scuffed >= 0 && l.scuffed < 1)
		if l.crisp == 0 {
			usual++
		}
		if l.crisp > 0.7 {
			crisp++
		}
		if l.scuffed > 0.7 {
			scuffed++
		}
		named := drawLeather(stream(seed, "leather"), "nubuck")
		require.Zero(t, named.crisp+named.scuffed)
	}
	assert.Greater(t, usual, 40)
	assert.Greater(t, crisp, 30)
	assert.Greater(t, scuffed, 20)
}

// Where a stain is crisp its tone goes from a tenth to nine tenths over less of its radius.
func TestCrispStain(t *testing.T) {
	width := func(crisp float64) float64 {
		_, m := newSwatchSkin(stream(3, "flaws"), leather{article: article{mark: 1}, crisp: crisp}, 400, 0.5, 1)
		d, ok := m.stain()
		require.True(t, ok)
		tone := func(p float64) float64 { return math.Abs(1 - d.parts[0].ink(spot{p: p}).colour[0]) }
		from, to := 2.0, 2.0
		for p := 2.0; p > 0 && tone(p) < 0.9*tone(0); p -= 0.001 {
			if tone(p) < 0.1*tone(0) {
				from = p
			}
			to = p
		}
		return from - to
	}
	assert.Less(t, width(0.9)/width(0), 0.3) // a tenth, but for the drying edge, which is as wide as ever
}
