package yield

import (
	"slices"
	"time"

	"hidechart/hide"
	"hidechart/plane"
)

// LayoutParams bound a layout and the search for a better one.
type LayoutParams struct {
	Gap      hide.MM // left between two pieces
	MostSets int     // sets wanted; 0: as many as fit
	FillUp   bool    // add the pieces of one further set that fit beside the whole ones
	// Tries is how many other orders of the pieces are tried, in the hope of one more
	// set or, when not one is whole, more leather in pieces; 0: none.
	Tries int
	Seed  uint64 // of the orders; the same seed gives the same layout
	// TimeLimit ends the search early; 0: none. A layout that it ended depends on the
	// machine: Layout.Stopped says so.
	TimeLimit time.Duration
	// Looks are the boards of the looks that parts of pieces name. All boards of a
	// layout share one grid then (NewBoards).
	Looks map[string]*Board
}

// DefaultLayoutParams try 12 other orders: 40 pieces at 1 mm stay within some
// seconds on two cores (make bench), and most of what a short search wins is won by
// then.
func DefaultLayoutParams() LayoutParams { return LayoutParams{Tries: 12, Seed: 1} }

// mostPlaced pieces on one hide: beyond it the count is what matters, and the
// share of the hide gives that.
const mostPlaced = 5000

// PlacedPiece is a piece on the hide.
type PlacedPiece struct {
	Piece  int // index into the pieces
	Turn   float64
	Mirror bool
	Shape  hide.Polygon // table frame
	Parts  []hide.Shape // of it, in the order of Piece.Parts
	at     hide.Point   // reference point
	pose   Pose
}

// Layout is where the pieces of some sets lie.
type Layout struct {
	Placed []PlacedPiece
	Sets   int     // whole sets
	Extra  int     // so many at the end of Placed are beyond whole sets: they fit beside them
	Used   float64 // share of the board's region that is in pieces
	// Tried counts the layouts that were made; Stopped says that the time limit ended
	// the search.
	Tried   int
	Stopped bool
}

// CountOf is how many of a piece are placed.
func (l Layout) CountOf(piece int) int { return countOf(l.Placed, piece) }

// ExtraOf is how many of a piece are placed beyond the whole sets.
func (l Layout) ExtraOf(piece int) int { return countOf(l.Placed[len(l.Placed)-l.Extra:], piece) }

func countOf(list []PlacedPiece, piece int) int {
	n := 0
	for _, p := range list {
		if p.Piece == piece {
			n++
		}
	}
	return n
}

// LayOut places whole sets by bottom-left filling (Baker, Coffman & Rivest
// 1980), large pieces first: each piece goes to the lowest place, of those to the
// leftmost, over its turns; on the raster, rounded so that nothing overlaps.
// Sets are added while one more fits; then other orders of the pieces are tried for
// one set more (see search); then, if asked for, the pieces of one further set that
// fit beside the whole sets are added. boards holds the board of each piece; pieces of one look
// share one. Every placement is verified by polygons: on its region, apart from all
// others by the gap. It is an estimate to compare hides and to plan: a nesting
// program, or a cutter, finds more.
//
// Errors: Internal when a placement fails the verification; Invalid.
func LayOut(boards []*Board, pieces []Piece, p LayoutParams) (Layout, error) {
	k, err := newPacker(boards, pieces, p)
	if err != nil {
		return Layout{}, err
	}
	perSet := 0
	for _, q := range pieces {
		perSet += q.Count
	}
	limit := max(1, mostPlaced/perSet)
	if p.MostSets > 0 {
		limit = min(limit, p.MostSets)
	}
	best, sets := k.greedy(limit)
	best, sets = k.search(best, sets, limit)
	best.Sets = sets
	if p.FillUp || sets == 0 {
		k.fillUp(&best)
	}
	best.Used, best.Tried, best.Stopped = usedShare(boards, best), k.tried, k.stopped
	return best, verify(boards, pieces, best, p)
}

// greedy doubles the sets until it fails, then halves the distance: a greedy layout
// of fewer sets is not always a part of one of more, so the last success is kept.
func (k *packer) greedy(limit int) (best Layout, low int) {
	high := 1
	for low < limit && high <= limit {
		l, ok := k.run(itemsOf(k.pieces, high), true)
		if !ok {
			break
		}
		best, low = l, high
		high = min(2*high, max(high+1, limit))
	}
	for high = min(high, limit+1); high-low > 1; {
		middle := (low + high) / 2
		if l, ok := k.run(itemsOf(k.pieces, middle), true); ok {
			best, low = l, middle
		} else {
			high = middle
		}
	}
	return best, low
}

// itemsOf lists the pieces of some sets, large ones first. Of a pair every
// second one is mirrored.
func itemsOf(pieces []Piece, sets int) []item {
	var out []item
	for _, i := range sortedBySize(pieces) {
		for n := range sets * pieces[i].Count {
			out = append(out, item{i, pieces[i].Pair && n%2 == 1})
		}
	}
	return out
}

func usedShare(boards []*Board, l Layout) float64 {
	var used, whole hide.MM2
	for _, p := range l.Placed {
		used += p.Shape.Area()
	}
	for _, b := range boards {
		whole = max(whole, b.region.Area())
	}
	return share(used, whole)
}

// verify checks a layout by polygons.
func verify(boards []*Board, pieces []Piece, l Layout, params LayoutParams) error {
	gap := params.Gap
	for i, p := range l.Placed {
		if err := verifyPlace(boards, pieces, p, i, params); err != nil {
			return err
		}
		edge := plane.NewEdgeIndex(p.Shape.Outer)
		box, _ := boxOf(hide.Shape{p.Shape})
		for j, q := range l.Placed[:i] {
			other, _ := boxOf(hide.Shape{q.Shape})
			if box.Min.X > other.Max.X+gap || other.Min.X > box.Max.X+gap || box.Min.Y > other.Max.Y+gap || other.Min.Y > box.Max.Y+gap {
				continue
			}
			both, err := plane.Intersection(hide.Shape{p.Shape}, hide.Shape{q.Shape})
			if err != nil {
				return err
			}
			// a micrometre: the resolution of charts
			if both.Area() > sliver || gap > 0 && edge.DistanceToShape(hide.Shape{q.Shape}) < gap-0.001 {
				return hide.Faultf(hide.Internal, "layout: pieces %d and %d are too near each other", j+1, i+1)
			}
		}
	}
	return nil
}

// verifyPlace checks that a piece lies on its leather, each part on its own.
func verifyPlace(boards []*Board, pieces []Piece, p PlacedPiece, i int, params LayoutParams) error {
	rest := hide.Shape{p.Shape}
	for j, s := range p.Parts {
		board, err := partBoard(pieces[p.Piece].Parts[j], params.Looks)
		if err != nil {
			return err
		}
		ok, err := board.covers(s)
		if err != nil {
			return err
		}
		if !ok {
			return hide.Faultf(hide.Internal, "layout: part %q of piece %d lies off its leather", pieces[p.Piece].Parts[j].Name, i+1)
		}
		if rest, err = plane.Difference(rest, s); err != nil {
			return err
		}
	}
	ok, err := boards[p.Piece].covers(rest)
	if err != nil {
		return err
	}
	if !ok {
		return hide.Faultf(hide.Internal, "layout: piece %d lies off the cuttable leather", i+1)
	}
	return nil
}

// Outlines are the shapes of a layout, in the order placed.
func (l Layout) Outlines() hide.Shape {
	var out hide.Shape
	for _, p := range l.Placed {
		out = append(out, p.Shape)
	}
	return slices.Clip(out)
}
