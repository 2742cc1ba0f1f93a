package yield

import (
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/hide"
	"hidechart/plane"
)

// A flap whose lower half is turned under: it may lie on leather that only the
// milder look leaves, the upper half may not.
func TestPartsLieOnTheirOwnLook(t *testing.T) {
	p, err := ParsePieces(".svg", svg(`<g id="flap" data-turns="0"><rect width="200" height="100"/>
<rect class="part" id="under" y="50" width="200" height="50" data-look="mild"/></g>`), nil)
	require.NoError(t, err)
	flap := p.List[0]
	require.Len(t, flap.Parts, 1)
	require.Equal(t, "mild", flap.Parts[0].Look)
	require.InDelta(t, 200*50, float64(flap.Parts[0].Shape.Area()), 1e-6)
	box, _ := boxOf(flap.Parts[0].Shape)
	require.InDelta(t, 50, float64(box.Max.Y), 1e-6, "y up: the lower half")

	outline := hide.Polygon{Outer: rect(0, 0, 400, 300)}
	strict, mild := hide.Shape{{Outer: rect(0, 150, 400, 300)}}, hide.Shape{outline}
	boards, err := NewBoards(outline, []hide.Shape{strict, mild}, 1, [2]hide.Point{})
	require.NoError(t, err)
	looks := map[string]*Board{"mild": boards[1]}
	l, err := LayOut(boards[:1], []Piece{flap}, LayoutParams{Looks: looks})
	require.NoError(t, err)
	// 200 × 150 of strict leather holds 2 × 1 flaps whole; with the lower half below it
	// one row more fits: the upper half needs y ≥ 150
	require.Equal(t, 4, l.Sets)
	low, _ := boxOf(hide.Shape{l.Placed[0].Shape})
	require.InDelta(t, 100, float64(low.Min.Y), 1e-9)
	reach, err := boards[0].reachParts(flap, looks)
	require.NoError(t, err)
	require.InDelta(t, 400*200, float64(reach.Usable), 1e-6, "from 50 below the strict leather up")
	require.GreaterOrEqual(t, reach.UpperBound, l.Sets)

	_, err = LayOut(boards[:1], []Piece{flap}, LayoutParams{})
	require.ErrorContains(t, err, `part "under" needs look "mild"`)
	bad := l
	bad.Placed[0].Shape = hide.Polygon{Outer: rect(0, 60, 200, 160)}
	bad.Placed[0].Parts = []hide.Shape{{{Outer: rect(0, 60, 200, 110)}}}
	require.ErrorContains(t, verify(boards[:1], []Piece{flap}, bad, LayoutParams{Looks: looks}), "off the cuttable", "the upper half reaches below 150")
}

func TestPartsRefuse(t *testing.T) {
	for body, want := range map[string]string{
		`<g id="a"><rect width="90" height="40"/><rect class="part" id="u" width="90" height="9"/></g>`:                                  "names no look",
		`<g id="a"><rect width="90" height="40"/><rect class="part" id="u" x="50" y="1" width="60" height="20" data-look="rustic"/></g>`: "reaches",
	} {
		_, err := ParsePieces(".svg", svg(body), nil)
		require.ErrorContains(t, err, want)
	}
}

// A turned, mirrored piece carries its parts with it.
func TestPartsTurnWithThePiece(t *testing.T) {
	p := pieceOf(rect(0, 0, 100, 40))
	p.Parts = []Part{{Name: "u", Look: "x", Shape: hide.Shape{{Outer: rect(60, 10, 90, 30)}}}}
	for _, turn := range []float64{0, 33, 90, 211} {
		for _, mirror := range []bool{false, true} {
			s, parts := p.turnedParts(turn, mirror)
			both, err := plane.Intersection(hide.Shape{s}, parts[0])
			require.NoError(t, err)
			require.InDelta(t, 600, float64(both.Area()), 1e-6)
		}
	}
}

// The way a piece is to stretch is laid across the backbone (common practice, no
// source); a grain line along it says the same, one across it contradicts.
func TestStretchLiesAcrossTheBackbone(t *testing.T) {
	p, err := ParsePieces(".svg", svg(`<g id="vamp"><rect width="100" height="20"/><line class="stretch" x1="20" y1="10" x2="80" y2="10"/></g>`), nil)
	require.NoError(t, err)
	v := p.List[0]
	require.InDelta(t, 0, *v.Stretch, 1e-9)
	require.Equal(t, []float64{0, 180}, v.Turns)
	along := hide.Shape{{Outer: rect(0, 0, 300, 60)}} // holds the piece only lengthwise
	b, err := NewBoard(along, 1, [2]hide.Point{at(0, 30), at(300, 30)})
	require.NoError(t, err)
	require.Zero(t, b.Reach(v).Usable, "it would stretch along the backbone")
	b, err = NewBoard(along, 1, [2]hide.Point{at(150, 0), at(150, 60)})
	require.NoError(t, err)
	require.Positive(t, b.Reach(v).Usable)
	for notes, ok := range map[string]bool{"pieces: {a: {grain_deg: 90, stretch_deg: 0}}": true, "pieces: {a: {grain_deg: 5, stretch_deg: 180}}": false} {
		_, err := ParsePieces(".svg", svg(`<rect id="a" width="90" height="40"/>`), []byte(notes))
		require.Equal(t, ok, err == nil, notes)
		if err != nil {
			require.ErrorContains(t, err, "contradict")
		}
	}
}

// DXF carries parts and stretch lines by their layers.
func TestPartsFromDXF(t *testing.T) {
	poly := func(layer, pts string) string { return "0\nLWPOLYLINE\n8\n" + layer + "\n90\n4\n70\n1\n" + pts }
	text := "0\nSECTION\n2\nENTITIES\n" + poly("pieces", "10\n0\n20\n0\n10\n100\n20\n0\n10\n100\n20\n60\n10\n0\n20\n60\n") +
		poly("part rustic", "10\n0\n20\n0\n10\n100\n20\n0\n10\n100\n20\n20\n10\n0\n20\n20\n") +
		"0\nLINE\n8\nstretch\n10\n50\n20\n10\n11\n50\n21\n50\n0\nENDSEC\n0\nEOF\n"
	p, err := ParsePieces(".dxf", []byte(text), []byte("unit: mm"))
	require.NoError(t, err)
	require.Len(t, p.List, 1)
	require.Equal(t, "rustic", p.List[0].Parts[0].Look)
	require.InDelta(t, 90, *p.List[0].Stretch, 1e-9)
}

// One candidate across a strip that holds two panels without it and none with it:
// the range of sets says 0 to 2, and closes up with the review.
func TestSetsHaveARange(t *testing.T) {
	chart := square()
	chart.Defects = []hide.Defect{candidate(1, hide.Scar, 0.5, rect(450, 0, 550, 1000))}
	p := pieceOf(rect(0, 0, 600, 500))
	sets := func(status hide.Status) Range {
		chart.Defects[0].Status = status
		r, _, err := Evaluate(t.Context(), chart, plain(), &Pieces{List: []Piece{p}}, DefaultOptions())
		require.NoError(t, err)
		return *r.SetsRange
	}
	r := sets(hide.Candidate)
	require.InDelta(t, 0, r.P10, 0)
	require.InDelta(t, 2, r.P90, 0)
	require.Equal(t, Range{}, sets(hide.Confirmed))
	require.Equal(t, Range{2, 2, 2}, sets(hide.Rejected))
}

// The search finds a set that the greedy order misses, says what it tried, and is
// the same again; a time limit that is over says that it ended it.
func TestSearchFindsAnotherSet(t *testing.T) {
	b := board(t, hide.Shape{{Outer: rect(0, 0, 100, 100)}}, 1)
	// greedy, by area: the 60 × 50 first, lowest and leftmost; the 100 × 40 strip no longer
	// fits below and lies across; found by hand that another order holds all
	list := []Piece{pieceOf(rect(0, 0, 70, 60)), pieceOf(rect(0, 0, 30, 100)), pieceOf(rect(0, 0, 70, 40))}
	for i := range list {
		list[i].Name = string(rune('a' + i))
	}
	l := layOut(t, b, LayoutParams{Tries: 30, Seed: 1}, list...)
	again := layOut(t, b, LayoutParams{Tries: 30, Seed: 1}, list...)
	require.Equal(t, 1, l.Sets)
	require.Equal(t, l.Outlines(), again.Outlines())
	stopped := layOut(t, b, LayoutParams{Tries: 1000, Seed: 1, TimeLimit: 1}, pieceOf(rect(0, 0, 99, 52)))
	require.True(t, stopped.Stopped || stopped.Sets == 1)
}

// Beside two whole sets one more of the small pieces fits: it is there, counted
// apart.
func TestFillUpCountsApart(t *testing.T) {
	b := board(t, hide.Shape{{Outer: rect(0, 0, 250, 100)}}, 1)
	l := layOut(t, b, LayoutParams{FillUp: true}, pieceOf(rect(0, 0, 100, 80)), pieceOf(rect(0, 0, 100, 20)))
	require.Equal(t, 2, l.Sets)
	require.Equal(t, 0, l.ExtraOf(0))
	narrow := pieceOf(rect(0, 0, 50, 20))
	l = layOut(t, b, LayoutParams{FillUp: true}, pieceOf(rect(0, 0, 100, 80)), narrow)
	require.Equal(t, 1, l.ExtraOf(1))
	require.Equal(t, l.Sets+1, l.CountOf(1))
}
