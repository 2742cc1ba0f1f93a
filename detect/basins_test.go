package detect

import (
	"compress/gzip"
	"encoding/json"
	"math"
	"os"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hidechart/hide"
	"hidechart/plane"
)

// The basins of a random surface are those of scikit-image 0.19.3's watershed
// (testdata/basins/reference.py): as many, and the same but on crests, where a flood and a drop of
// water may choose another side.
func TestBasinsAsScikitImage(t *testing.T) {
	f, err := os.Open("testdata/basins/reference.json.gz")
	require.NoError(t, err)
	defer func() { require.NoError(t, f.Close()) }()
	z, err := gzip.NewReader(f)
	require.NoError(t, err)
	var ref struct {
		Engine  string
		Side    int
		Surface []float32
		Basins  []int32
	}
	require.NoError(t, json.NewDecoder(z).Decode(&ref))
	require.Equal(t, "scikit-image 0.19.3, scipy 1.10.1", ref.Engine)
	got := basinsOf(field{ref.Side, ref.Side, ref.Surface}, slices.Repeat([]bool{true}, len(ref.Surface)))
	assert.Equal(t, slices.Max(ref.Basins), got.count)
	shared, total := map[[2]int32]int{}, map[int32]int{}
	for i, k := range got.of {
		shared[[2]int32{k, ref.Basins[i]}]++
	}
	for pair, n := range shared {
		total[pair[0]] = max(total[pair[0]], n)
	}
	same := 0
	for _, n := range total {
		same += n
	}
	assert.Greater(t, float64(same)/float64(len(got.of)), 0.98)
}

// Three flat tones side by side, the second step four times the first: the first two are joined first,
// and the step out of the pair is that to the third.
func TestFaintestBorderGoesFirst(t *testing.T) {
	const w, h = 30, 12
	tone, in := newField(w, h), slices.Repeat([]bool{true}, w*h)
	for i := range tone.v {
		tone.v[i] = []float32{0, 1, 5}[i%w/10]
	}
	slope, _ := slopes(tone, in)
	all := basinsOf(slope, in).joined(slope, tone, in)
	last := all[len(all)-1]
	require.Zero(t, last.into)
	assert.EqualValues(t, w*h, last.pixels)
	pair, third := all[last.parts[0]], all[last.parts[1]]
	if pair.pixels < third.pixels {
		pair, third = third, pair
	}
	assert.InDelta(t, 4, pair.meanStep(), 0.01)
	assert.InDelta(t, -4, third.meanStep(), 0.01)
}

// Regions picked never lie one within the other, and the most evidence comes first.
func TestPickedApart(t *testing.T) {
	// 1 and 2 became 4; 4 and 3 became 5
	all := []region{{}, {into: 4, pixels: 1}, {into: 4, pixels: 2}, {into: 5, pixels: 3}, {parts: [2]int32{1, 2}, into: 5, pixels: 4}, {parts: [2]int32{4, 3}, pixels: 5}}
	by := func(value ...float64) []int32 { return apart(all, func(r region) float64 { return value[r.pixels-1] }) }
	assert.Equal(t, []int32{4, 3}, by(1, 2, 3, 9, 0))
	assert.Equal(t, []int32{1, 3, 2}, by(5, 2, 3, 4, 1))
	assert.Equal(t, []int32{5}, by(1, 1, 1, 1, 2))
	assert.Equal(t, []int32{1, 2}, basinsIn(all, 4))
}

// A disc's border is traced to 1 mm from a part of 4 mm pixels, and a cloud across it as deep as its own step
// does not move it.
func TestBorderUnderACloud(t *testing.T) {
	const radius = 26.0
	disc := func(x, y float64) float64 {
		return -0.1/(1+math.Exp((math.Hypot(x-150, y-140)-radius)/0.6)) + 0.1*math.Tanh((x-150)/40)
	}
	s := surfaceOf(t, leatherScene{0.01, map[hide.Light]func(x, y float64) float64{hide.Top: disc}}.input(t))
	found, err := s.patches(DefaultParams())
	require.NoError(t, err)
	require.NotEmpty(t, found)
	for _, p := range found[0].shape.Outer {
		require.InDelta(t, radius, math.Hypot(float64(p.X)-150, float64(p.Y)-140), 1)
	}
	require.InEpsilon(t, math.Pi*radius*radius, float64(found[0].shape.Area()), 0.02)
}

// A stain cut by the edge of the hide ends where the leather does.
func TestBorderAtTheEdge(t *testing.T) {
	blot := func(x, y float64) float64 { return -0.15 / (1 + math.Exp((math.Hypot(x-30, y-150)-45)/0.6)) }
	in := leatherScene{0.01, map[hide.Light]func(x, y float64) float64{hide.Top: blot}}.input(t)
	found, err := surfaceOf(t, in).patches(DefaultParams())
	require.NoError(t, err)
	require.NotEmpty(t, found)
	require.Greater(t, float64(found[0].shape.Area()), 2000.0)
	beyond, err := plane.Difference(hide.Shape{found[0].shape}, hide.Shape{in.Outline})
	require.NoError(t, err)
	assert.Less(t, float64(beyond.Area()), 10.0)
}

// What a ring of pixels shuts in is filled; a bay is not.
func TestFilledHoles(t *testing.T) {
	part := []bool{
		false, false, false, false, false,
		false, true, true, true, false,
		false, true, false, true, true,
		false, true, true, true, false,
		false, false, false, true, false,
	}
	want := slices.Clone(part)
	want[12] = true
	fillHoles(part, 5)
	assert.Equal(t, want, part)
}
