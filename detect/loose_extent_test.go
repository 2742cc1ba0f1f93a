package detect

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hidechart/hide"
	"hidechart/pix"
	"hidechart/plane"
)

// cone is a field that falls from a height in the middle of the table to 0 at a radius.
func cone(height, radius float64) risenField {
	g := pix.TableGrid(400, 300, 4)
	f := risenField{newField(g.Width, g.Height), g, 0.5}
	for i := range f.v {
		p := g.ToTable(pix.Point{X: hide.PX(i % g.Width), Y: hide.PX(i / g.Width)})
		f.v[i] = float32(height * max(0, 1-math.Hypot(float64(p.X)-200, float64(p.Y)-150)/radius))
	}
	return f
}

// A loose area is charted as far as its ripple shows, not only where it is plain enough to be found.
func TestLooseExtent(t *testing.T) {
	found := hide.Shape{{Outer: disc(at(200, 150), 50)}}
	for height, want := range map[float64]float64{4: 66.4, 2: 50} { // at ln(1+0.15(e²−1))/0.5 = 1.34 of 4; at 1, the least, of 2
		f := cone(height, 100)
		got, err := f.extent(found, height)
		require.NoError(t, err)
		assert.InDelta(t, want, math.Sqrt(float64(got.Area())/math.Pi), 2)
	}

	f := cone(4, 100)
	for y := range f.h { // a seam of plain leather 12 mm wide is closed over
		for x := 49; x < 52; x++ {
			f.v[y*f.w+x] = 0
		}
	}
	got, err := f.extent(found, 4)
	require.NoError(t, err)
	require.Len(t, got, 1)
	assert.InDelta(t, 66.4, math.Sqrt(float64(got.Area())/math.Pi), 2)

	elsewhere := hide.Shape{{Outer: disc(at(60, 60), 30)}}
	got, err = f.extent(elsewhere, 4)
	require.NoError(t, err)
	assert.Equal(t, elsewhere, got, "nothing rises there")
}

func TestSmoothedOver(t *testing.T) {
	square := hide.Shape{{Outer: hide.Ring{at(0, 0), at(100, 0), at(100, 100), at(0, 100)}}}
	spike := hide.Shape{{Outer: hide.Ring{at(100, 45), at(180, 45), at(180, 55), at(100, 55)}}}
	got, err := smoothedOver([]hide.Shape{square, spike}, 12)
	require.NoError(t, err)
	assert.False(t, plane.ContainsShape(got, at(150, 50)), "a spike is cut off")
	assert.InDelta(t, 1e4, float64(got.Area()), 500)
	got, err = smoothedOver(nil, 12)
	require.NoError(t, err)
	assert.Empty(t, got)
}
