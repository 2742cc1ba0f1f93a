package yield

import (
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"hidechart/hide"
)

func layOut(t require.TestingT, b *Board, p LayoutParams, pieces ...Piece) Layout {
	boards := make([]*Board, len(pieces))
	for i := range boards {
		boards[i] = b
	}
	l, err := LayOut(boards, pieces, p)
	require.NoError(t, err)
	return l
}

// Source: shared/facts.md [S+C]: six 24 × 24 in panels from one 50 ft² hide = 24
// ft² net = 48 %. The hide is a rectangle of 50 ft², 72 in wide.
func TestSixPanelsPlaced(t *testing.T) {
	w, h := float64(hide.FromInches(72)), float64(hide.FromInches(100))
	b := board(t, hide.Shape{{Outer: rect(0, 0, w, h)}}, 2)
	side := float64(hide.FromInches(24))
	l := layOut(t, b, LayoutParams{MostSets: 6}, pieceOf(rect(0, 0, side, side)))
	require.Equal(t, 6, l.Sets)
	require.InDelta(t, 0.48, l.Used, 1e-3)
}

// Source: shared/facts.md [S+C]: a 1,400 mm square butt gives thirty 1½-in straps
// (81.6 % of its width; 36 is the ceiling). Without the trade's losses between
// straps the layout finds the ceiling, and the bound says it.
func TestThirtyStraps(t *testing.T) {
	b := board(t, hide.Shape{{Outer: rect(0, 0, 1400, 1400)}}, 1)
	width := float64(hide.FromInches(1.5))
	strap := pieceOf(rect(0, 0, width, 1400))
	l := layOut(t, b, LayoutParams{}, strap)
	require.GreaterOrEqual(t, l.Sets, 30)
	require.LessOrEqual(t, l.Sets, 36)
	require.Equal(t, 36, b.Reach(strap).UpperBound)
	require.InDelta(t, 0.816, 30*width/1400, 0.001)
}

// Pieces keep off each other and the edge, whatever their shape: LayOut verifies
// by polygons and would fail.
func TestLayoutIsVerified(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		chart := inventedHide(t)
		cut, err := Cuttable(chart, plain(), Params{Samples: 10, Likely: 0.5})
		require.NoError(t, err)
		p, q := starPiece(t), starPiece(t)
		p.Turns, q.Pair, q.Count = []float64{0, 77}, true, 2
		b := board(t, cut.Region, 9)
		gap := hide.MM(rapid.SampledFrom([]float64{0, 3, 20}).Draw(t, "gap"))
		l := layOut(t, b, LayoutParams{Gap: gap, MostSets: 3}, p, q)
		if l.Sets > 0 {
			require.Equal(t, l.Sets, l.CountOf(0))
			require.Equal(t, 2*l.Sets, l.CountOf(1))
		}
		require.LessOrEqual(t, l.CountOf(0), b.Reach(p).UpperBound)
		mirrored := 0
		for _, x := range l.Placed {
			if x.Mirror {
				require.Equal(t, 1, x.Piece, "only the pair has mirrored pieces")
				mirrored++
			}
		}
		if l.Sets > 0 {
			require.Equal(t, l.Sets, mirrored, "every second of a pair")
		}
	})
}

// The verification itself fails on a layout that overlaps or leaves the hide.
func TestVerifyFindsFaults(t *testing.T) {
	b := board(t, hide.Shape{{Outer: rect(0, 0, 100, 100)}}, 1)
	at := func(x, y float64) PlacedPiece { return PlacedPiece{Shape: hide.Polygon{Outer: rect(x, y, x+30, y+30)}} }
	require.NoError(t, verify([]*Board{b}, []Piece{{}}, Layout{Placed: []PlacedPiece{at(0, 0), at(30, 0)}}, LayoutParams{Gap: 0}))
	require.ErrorContains(t, verify([]*Board{b}, []Piece{{}}, Layout{Placed: []PlacedPiece{at(0, 0), at(29, 0)}}, LayoutParams{Gap: 0}), "too near")
	require.ErrorContains(t, verify([]*Board{b}, []Piece{{}}, Layout{Placed: []PlacedPiece{at(0, 0), at(32, 0)}}, LayoutParams{Gap: 3}), "too near")
	require.ErrorContains(t, verify([]*Board{b}, []Piece{{}}, Layout{Placed: []PlacedPiece{at(80, 0)}}, LayoutParams{Gap: 0}), "off the cuttable")
}

func TestLayoutOfWhatDoesNotFit(t *testing.T) {
	b := board(t, hide.Shape{{Outer: rect(0, 0, 100, 100)}}, 1)
	l := layOut(t, b, LayoutParams{}, pieceOf(rect(0, 0, 60, 60)), pieceOf(rect(0, 0, 90, 30)), pieceOf(rect(0, 0, 300, 300)))
	require.Zero(t, l.Sets)
	require.Equal(t, []int{1, 1, 0}, []int{l.CountOf(0), l.CountOf(1), l.CountOf(2)}, "the part of a set that fits")
}

// Issue 5: 40 pieces laid out within 20 s.
func BenchmarkLayOut(b *testing.B) {
	board, err := NewBoard(bigHide(), 1, [2]hide.Point{})
	require.NoError(b, err)
	p := blob(200)
	p.Turns, p.Count = []float64{0, 180}, 20
	q := pieceOf(rect(0, 0, 150, 90))
	q.Turns, q.Count = []float64{0, 90}, 20
	b.ReportAllocs()
	for b.Loop() {
		if l := layOut(b, board, LayoutParams{MostSets: 1}, p, q); l.Sets != 1 {
			b.Fatal("no set")
		}
	}
}
