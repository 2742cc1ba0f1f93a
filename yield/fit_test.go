package yield

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"hidechart/hide"
	"hidechart/plane"
)

func pieceOf(outer hide.Ring, holes ...hide.Ring) Piece {
	return Piece{Name: "p", Shape: atOrigin(hide.Polygon{Outer: outer, Holes: holes}.Oriented()), Turns: []float64{0}, Count: 1}
}

func board(t require.TestingT, region hide.Shape, cell hide.MM) *Board {
	b, err := NewBoard(region, cell, [2]hide.Point{})
	require.NoError(t, err)
	return b
}

// starPiece draws a piece that is not convex, now and then with a cut-out.
func starPiece(t *rapid.T) Piece {
	n := rapid.IntRange(3, 14).Draw(t, "n")
	outer := make(hide.Ring, n)
	for i := range outer {
		sin, cos := math.Sincos(2 * math.Pi * (float64(i) + 0.1) / float64(n))
		r := rapid.Float64Range(60, 260).Draw(t, "r")
		outer[i] = at(r*cos, r*sin)
	}
	if rapid.Bool().Draw(t, "cut-out") {
		return pieceOf(outer, disc(0, 0, 15, 8))
	}
	return pieceOf(outer)
}

// Against a brute-force polygon test (GEOS): every place claimed is a fit, and
// every one not claimed would not be with the piece grown by the two cells' diagonals
// that rounding may cost.
func TestFitAgainstPolygons(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		chart := inventedHide(t)
		cut, err := Cuttable(chart, plain(), Params{Samples: 10, Likely: 0.5})
		require.NoError(t, err)
		const cell = 13.0
		b := board(t, cut.Region, cell)
		p := starPiece(t)
		p.Turns = []float64{rapid.Float64Range(0, 360).Draw(t, "turn")}
		pose := b.Poses(p)[0]
		places := b.Fit(pose)
		grown, err := plane.Buffer(hide.Shape{pose.shape}, 2*cell*math.Sqrt2)
		require.NoError(t, err)
		for range 30 {
			c, r := rapid.IntRange(-5, b.w).Draw(t, "c"), rapid.IntRange(-5, b.h).Draw(t, "r")
			where := b.grid.at(c, r)
			if places.at.has(c+places.mask.dx, r+places.mask.dy) {
				ok, err := b.covers(hide.Shape{pose.Placed(where)})
				require.NoError(t, err)
				require.True(t, ok, "claimed at %v", where)
				continue
			}
			big := plane.Mapped(grown, func(q hide.Point) hide.Point { return hide.Point{X: q.X + where.X, Y: q.Y + where.Y} })
			rest, err := plane.Difference(big, cut.Region)
			require.NoError(t, err)
			require.Greater(t, float64(rest.Area()), 0.0, "missed at %v", where)
		}
		n := 0
		places.Each(func(hide.Point) { n++ })
		require.Equal(t, places.Count(), n)
	})
}

// Usable area is the union of the placements: never more than GEOS's union of
// the placed polygons, and near it.
func TestUsableAreaAgainstUnion(t *testing.T) {
	region := hide.Shape{{Outer: rect(0, 0, 300, 200), Holes: []hide.Ring{disc(100, 100, 20, 32)}}}
	p := pieceOf(hide.Ring{at(0, 0), at(60, 10), at(50, 45), at(25, 30), at(5, 50)})
	b := board(t, region, 5)
	got := b.Reach(p)
	var all []hide.Shape
	places := b.Fit(b.Poses(p)[0])
	places.Each(func(q hide.Point) { all = append(all, hide.Shape{places.Pose.Placed(q)}) })
	require.Greater(t, len(all), 200)
	union, err := plane.Union(all...)
	require.NoError(t, err)
	require.LessOrEqual(t, float64(got.Usable), float64(union.Area())+1e-6)
	require.InDelta(t, float64(union.Area()), float64(got.Usable), 5*1126, "a cell of 5 mm along an edge of 2·(300+200) + 2π·20 mm")
	require.Less(t, float64(got.Usable), float64(region.Area()), "corners are out of reach")
}

// Closed forms: a w×h rectangle in a W×H one has (W−w)(H−h) of places and
// reaches everything; exact multiples are found in full.
func TestFitRectangles(t *testing.T) {
	b := board(t, hide.Shape{{Outer: rect(10, 20, 410, 320)}}, 1)
	p := pieceOf(rect(0, 0, 100, 150))
	places := b.Fit(b.Poses(p)[0])
	require.Equal(t, (300+1)*(150+1), places.Count(), "both ends count")
	got := b.Reach(p)
	require.InDelta(t, 400*300, float64(got.Usable), 1e-6)
	require.Equal(t, 8, got.UpperBound)
	p = pieceOf(rect(0, 0, 100, 301))
	require.Zero(t, b.Fit(b.Poses(p)[0]).Count())
	require.Zero(t, b.Reach(p).Usable)
	p.Turns = []float64{90}
	require.Positive(t, b.Fit(b.Poses(p)[0]).Count())
}

// A corridor that a small piece can reach and a large one cannot.
func TestLargePieceReachesLess(t *testing.T) {
	region := hide.Shape{{Outer: hide.Ring{at(0, 0), at(500, 0), at(500, 300), at(300, 300), at(300, 60), at(0, 60)}}}
	b := board(t, region, 2)
	require.InDelta(t, float64(region.Area()), float64(b.Reach(pieceOf(rect(0, 0, 20, 20))).Usable), 1)
	large := b.Reach(pieceOf(rect(0, 0, 80, 80)))
	require.InDelta(t, 200*300, float64(large.Usable), 1)
	require.Equal(t, 9, large.UpperBound, "200 × 300 holds 9.4 by area")
}

// The bound holds off the raster too: 3 × 3 pieces of 33.3 fit 100 × 100,
// whatever the cell.
func TestUpperBoundHoldsOffTheRaster(t *testing.T) {
	for _, cell := range []hide.MM{1, 3, 7, 40} {
		b := board(t, hide.Shape{{Outer: rect(0.3, 0.7, 100.3, 100.7)}}, cell)
		require.GreaterOrEqual(t, b.Reach(pieceOf(rect(0, 0, 33.3, 33.3))).UpperBound, 9, "cell %v", cell)
	}
}

// A grain line is laid along the backbone.
func TestGrainFollowsTheBackbone(t *testing.T) {
	p := pieceOf(rect(0, 0, 100, 20))
	along := 0.0
	p.Grain = &along
	b, err := NewBoard(hide.Shape{{Outer: rect(0, 0, 60, 300)}}, 1, [2]hide.Point{at(30, 300), at(30, 0)})
	require.NoError(t, err)
	require.InDelta(t, -90, b.Backbone, 1e-12)
	require.Positive(t, b.Fit(b.Poses(p)[0]).Count(), "along the hide")
	p.Turns = []float64{90}
	require.Zero(t, b.Fit(b.Poses(p)[0]).Count(), "across it")
	require.InDelta(t, 180-30-0, Piece{Grain: ref(30)}.angle(0, 180, false), 1e-12)
	require.InDelta(t, 30, Piece{Grain: ref(30)}.angle(0, 180, true), 1e-12, "mirrored, the line runs at 150")
}

func ref(v float64) *float64 { return &v }

func TestBoardRefuses(t *testing.T) {
	_, err := NewBoard(hide.Shape{{Outer: rect(0, 0, 3000, 3000)}}, 0.01, [2]hide.Point{})
	require.ErrorContains(t, err, "million")
	_, err = NewBoard(nil, 0, [2]hide.Point{})
	require.ErrorContains(t, err, "cell")
	b := board(t, nil, 1)
	require.Zero(t, b.Reach(pieceOf(rect(0, 0, 9, 9))).UpperBound)
}

// bigHide is 5 m² with a ragged edge and 60 holes.
func bigHide() hide.Shape {
	outer := make(hide.Ring, 2000)
	for i := range outer {
		a := 2 * math.Pi * float64(i) / float64(len(outer))
		r := 1 + 0.05*math.Sin(9*a) + 0.01*math.Sin(131*a)
		outer[i] = at(1400+1400*r*math.Cos(a), 1150+1140*r*math.Sin(a))
	}
	p := hide.Polygon{Outer: outer}
	for i := range 60 {
		a := 2.4 * float64(i)
		p.Holes = append(p.Holes, disc(1400+120*math.Sqrt(float64(i))*math.Cos(a), 1150+110*math.Sqrt(float64(i))*math.Sin(a), 4+float64(i%7), 24))
	}
	return hide.Shape{p.Oriented()}
}

func blob(n int) Piece {
	outer := make(hide.Ring, n)
	for i := range outer {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / float64(n))
		r := 120 + 30*math.Sin(5*2*math.Pi*float64(i)/float64(n))
		outer[i] = at(1.3*r*cos, r*sin)
	}
	return pieceOf(outer)
}

// Issue 5: the fit region of a 200-point piece at 0.5 mm on a 5 m² hide with
// holes within 1 s on two cores.
func BenchmarkFitRegion(b *testing.B) {
	region := bigHide()
	p := blob(200)
	b.ReportAllocs()
	for b.Loop() {
		board, err := NewBoard(region, 0.5, [2]hide.Point{})
		if err != nil {
			b.Fatal(err)
		}
		if board.Fit(board.Poses(p)[0]).Count() == 0 {
			b.Fatal("no place")
		}
	}
}

// One candidate in the middle of a strip: with it a panel can reach the two
// ends, without it everything. The range holds both, and follows the review.
func TestReachHasARange(t *testing.T) {
	chart := square()
	chart.Defects = []hide.Defect{candidate(1, hide.Scar, 0.5, rect(450, 0, 550, 1000))}
	p := pieceOf(rect(0, 0, 400, 400))
	result := func(status hide.Status) Range {
		chart.Defects[0].Status = status
		r, _, err := Evaluate(t.Context(), chart, plain(), &Pieces{List: []Piece{p}}, DefaultOptions())
		require.NoError(t, err)
		return r.Pieces[0].FitsRange
	}
	r := result(hide.Candidate)
	require.InDelta(t, 900e3, r.P10, 900e3*0.015, "cells of 3 mm on each side of 450 mm")
	require.InDelta(t, 1e6, r.P90, 1e6*0.015)
	r = result(hide.Confirmed)
	require.InDelta(t, 900e3, r.P10, 1e-3)
	require.InDelta(t, 900e3, r.P90, 1e-3)
	r = result(hide.Rejected)
	require.InDelta(t, 1e6, r.P10, 1e-3)
}

// Issue 5: the ratio to a direct polygon method, which asks GEOS at every corner of the
// raster whether the placed piece lies in the region. GEOS is timed on 40 corners; the
// metric is how many times longer all of them would take than the erosion.
func BenchmarkFitAgainstDirectPolygons(b *testing.B) {
	region, p := bigHide(), blob(200)
	const corners = 40
	var direct, raster time.Duration
	for b.Loop() {
		start := time.Now()
		board, err := NewBoard(region, 0.5, [2]hide.Point{})
		if err != nil {
			b.Fatal(err)
		}
		pose := board.Poses(p)[0]
		places := board.Fit(pose)
		raster += time.Since(start)
		start = time.Now()
		for i := range corners {
			at := board.grid.at((i*7919)%board.w, (i*104729)%board.h)
			ok, err := board.covers(hide.Shape{pose.Placed(at)})
			if err != nil {
				b.Fatal(err)
			}
			if in := places.at.has((i*7919)%board.w+places.mask.dx, (i*104729)%board.h+places.mask.dy); in && !ok {
				b.Fatal("a fit claimed that is none")
			}
		}
		all := float64(board.w) * float64(board.h) / corners
		direct += time.Duration(float64(time.Since(start)) * all)
	}
	b.ReportMetric(float64(direct)/float64(raster), "times-direct")
}
