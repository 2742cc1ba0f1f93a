package yield

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"hidechart/hide"
)

// A strip that can be filled without waste is: sixteen squares of a quarter of the
// width, and two triangles that make a rectangle (both worked by hand).
func TestStripWithoutWaste(t *testing.T) {
	p := StripParams{Cell: 5, Steps: 5, Seed: 1}
	q := pieceOf(rect(0, 0, 250, 250))
	q.Count = 16
	s, err := PackStrip([]Piece{q}, 1000, p)
	require.NoError(t, err)
	require.InDelta(t, 1000, float64(s.Length), 1e-6)
	require.InDelta(t, 1, s.Used, 1e-9)
	tri := pieceOf(hide.Ring{at(0, 0), at(1000, 0), at(0, 400)})
	tri.Count, tri.Turns = 2, []float64{0, 180}
	s, err = PackStrip([]Piece{tri}, 1000, p)
	require.NoError(t, err)
	require.InDelta(t, 400, float64(s.Length), 0.01, "sliding closes the raster's gap of 5 mm along the slope")
}

// Whatever the pieces: all are placed, apart and on the strip (PackStrip verifies by
// polygons), never shorter than their area allows, and the same again.
func TestStripHoldsAll(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b := starPiece(t), starPiece(t)
		a.Count, b.Count, b.Turns = 3, 2, []float64{0, 90}
		p := StripParams{Cell: 20, Steps: 3, Seed: rapid.Uint64().Draw(t, "seed")}
		s, err := PackStrip([]Piece{a, b}, 600, p)
		require.NoError(t, err)
		require.Len(t, s.Placed, 5)
		require.LessOrEqual(t, s.Used, 1+1e-9)
		again, err := PackStrip([]Piece{a, b}, 600, p)
		require.NoError(t, err)
		require.InDelta(t, float64(s.Length), float64(again.Length), 0)
	})
}

func TestStripRefuses(t *testing.T) {
	_, err := PackStrip([]Piece{pieceOf(rect(0, 0, 90, 20))}, 50, StripParams{Cell: 1})
	require.ErrorContains(t, err, "wider than the strip")
	_, err = PackStrip([]Piece{pieceOf(rect(0, 0, 90, 20))}, 0, StripParams{Cell: 1})
	require.ErrorContains(t, err, "width")
}

// Sliding down meets what is there, by hand: a square above a wedge, and beside one.
func TestRingRoom(t *testing.T) {
	square, wedge := rect(0, 10, 4, 14), hide.Ring{at(0, 0), at(4, 0), at(0, 4)}
	require.InDelta(t, 6, ringRoom(square, wedge), 1e-9)
	require.InDelta(t, 8, ringRoom(rect(2, 10, 6, 14), wedge), 1e-9)
	require.True(t, math.IsInf(ringRoom(rect(4, 10, 6, 14), wedge), 1), "they only touch along a line")
	require.InDelta(t, 0, ringRoom(rect(0, 4, 2, 6), wedge), 1e-9, "it stands on the tip")
}
