package detect

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/hide"
)

// ringOf is a circle about (440, 360), counter-clockwise.
func ringOf(radius float64) hide.Ring {
	var r hide.Ring
	for k := range 200 {
		sin, cos := math.Sincos(2 * math.Pi * float64(k) / 200)
		r = append(r, hide.Point{X: hide.MM(440 + radius*cos), Y: hide.MM(360 + radius*sin)})
	}
	return r
}

// An edge is where light steps; a ring within the leather, or on glare that fades, is none.
func TestEdgeless(t *testing.T) {
	f, err := darkOnLight().find(t, hide.Top)
	require.NoError(t, err)
	require.Zero(t, f.edgeless(ringOf(230), edgeBeside))
	glare := darkOnDark(440, 360, 60)
	f, err = glare.find(t, hide.Top)
	require.NoError(t, err)
	require.Less(t, f.edgeless(ringOf(230), edgeBeside), 0.02)
	require.Greater(t, f.edgeless(ringOf(70), edgeBeside), 0.9)
}

// Stations are as far apart as asked, also across a ring's corners.
func TestStations(t *testing.T) {
	square := hide.Ring{{X: 0, Y: 0}, {X: 10, Y: 0}, {X: 10, Y: 10}, {X: 0, Y: 10}}
	s := stations(square, 3)
	require.Len(t, s, 14)
	require.Equal(t, hide.Point{X: 10, Y: 2}, s[4].at)
	require.InDelta(t, 1, float64(s[4].nx), 1e-12)
	require.InDelta(t, -1, float64(s[0].ny), 1e-12)
}
