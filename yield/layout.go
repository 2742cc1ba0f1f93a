package yield

import (
	"math"
	"slices"

	"hidechart/hide"
	"hidechart/plane"
)

// LayoutParams bound a layout.
type LayoutParams struct {
	Gap      hide.MM // left between two pieces
	MostSets int     // sets wanted; 0: as many as fit
}

// mostPlaced pieces on one hide: beyond it the count is what matters, and the
// share of the hide gives that.
const mostPlaced = 5000

// PlacedPiece is a piece on the hide.
type PlacedPiece struct {
	Piece  int // index into the pieces
	Turn   float64
	Mirror bool
	Shape  hide.Polygon // table frame
}

// Layout is where the pieces of some sets lie.
type Layout struct {
	Placed []PlacedPiece
	Sets   int     // whole sets; 0: Placed is the part of one set that fits
	Used   float64 // share of the board's region that is in pieces
}

// CountOf is how many of a piece are placed.
func (l Layout) CountOf(piece int) int {
	n := 0
	for _, p := range l.Placed {
		if p.Piece == piece {
			n++
		}
	}
	return n
}

// layer is one board in use: what is still free of it, and how far up each
// pose was found blocked. Free leather only shrinks, so a pose is never sought
// again below its last place.
type layer struct {
	board *Board
	rungs *ladder
	from  map[string]int
}

// item is one piece to place, of the set's pieces.
type item struct {
	piece  int
	mirror bool
}

// LayOut places whole sets by bottom-left filling (Baker, Coffman & Rivest
// 1980), large pieces first: each piece goes to the lowest place, of those to the
// leftmost, over its turns; on the raster, rounded so that nothing overlaps.
// Sets are added while one more fits. boards holds the board of each piece;
// pieces of one look share one. Every placement is verified by polygons: on its
// region, apart from all others by the gap. It is an estimate to compare hides and
// to plan: a nesting program, or a cutter, finds more.
//
// Errors: Internal when a placement fails the verification; Invalid.
func LayOut(boards []*Board, pieces []Piece, p LayoutParams) (Layout, error) {
	if len(boards) != len(pieces) || len(pieces) == 0 {
		return Layout{}, hide.Faultf(hide.Invalid, "layout: %d boards for %d pieces", len(boards), len(pieces))
	}
	best, perSet := Layout{}, 0
	for _, q := range pieces {
		perSet += q.Count
	}
	limit := max(1, mostPlaced/perSet)
	if p.MostSets > 0 {
		limit = min(limit, p.MostSets)
	}
	poses := posesOf(boards, pieces, p.Gap)
	// double until it fails, then halve the distance: a greedy layout of fewer
	// sets is not always a part of one of more, so the last success is kept
	low, high := 0, 1
	for low < limit && high <= limit {
		l, ok := tryLayout(boards, pieces, poses, high)
		if !ok {
			break
		}
		best, low = l, high
		high = min(2*high, max(high+1, limit))
	}
	for high = min(high, limit+1); high-low > 1; {
		middle := (low + high) / 2
		if l, ok := tryLayout(boards, pieces, poses, middle); ok {
			best, low = l, middle
		} else {
			high = middle
		}
	}
	best.Sets = low
	if low == 0 {
		best, _ = tryLayout(boards, pieces, poses, 1)
	}
	return best, verify(boards, best, p.Gap)
}

// posed is a pose with its cells: of the piece, and grown by the gap.
type posed struct {
	Pose
	mask  mask
	grown mask
	key   string
}

func posesOf(boards []*Board, pieces []Piece, gap hide.MM) [][]posed {
	out := make([][]posed, len(pieces))
	for i, q := range pieces {
		for _, pose := range boards[i].Poses(q) {
			m := boards[i].mask(pose.shape, outer)
			x := posed{Pose: pose, mask: m, grown: m, key: words("%d %v %v", i, pose.Turn, pose.Mirror)}
			if gap > 0 {
				// an upright box of the gap around each cell: no less than a round one
				x.grown = m.grownBy(int(math.Ceil(float64(gap / boards[i].grid.cell))))
			}
			out[i] = append(out[i], x)
		}
	}
	return out
}

// grownBy widens a mask by n cells on every side; its runs reach to −n.
func (m mask) grownBy(n int) mask {
	out := m
	out.runs = nil
	for _, u := range m.runs {
		for d := -n; d <= n; d++ {
			out.runs = append(out.runs, run{u.row + d, u.from - n, u.to + n})
		}
	}
	return out
}

func tryLayout(boards []*Board, pieces []Piece, poses [][]posed, sets int) (Layout, bool) {
	layers := map[*Board]*layer{}
	for i, b := range boards {
		longest := 1
		for _, x := range poses[i] {
			longest = max(longest, x.mask.longest())
		}
		if l := layers[b]; l == nil {
			layers[b] = &layer{board: b, rungs: newLadder(b.free.clone(), longest), from: map[string]int{}}
		} else if 1<<len(l.rungs.rungs) <= longest {
			l.rungs = newLadder(l.rungs.rungs[0], longest)
		}
	}
	var out Layout
	complete := true
	for _, it := range itemsOf(pieces, sets) {
		placed, ok := layers[boards[it.piece]].place(poses[it.piece], it.mirror)
		if !ok {
			complete = false
			if sets > 1 {
				return out, false
			}
			continue
		}
		at := boards[it.piece].grid.at(placed.c-placed.pose.mask.dx, placed.r-placed.pose.mask.dy)
		s := placed.pose.Placed(at)
		for b, l := range layers {
			l.take(boards[it.piece], b, placed)
		}
		out.Placed = append(out.Placed, PlacedPiece{Piece: it.piece, Turn: placed.pose.Turn, Mirror: placed.pose.Mirror, Shape: s})
	}
	out.Used = usedShare(boards, out)
	return out, complete
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

// spot is a place found for a pose, the mask's corner at cell c, r.
type spot struct {
	pose posed
	c, r int
}

// place finds the lowest, then leftmost place of the poses.
func (l *layer) place(poses []posed, mirror bool) (spot, bool) {
	best, found := spot{}, false
	buf := make([]uint64, l.board.free.stride)
	for _, x := range poses {
		if x.Mirror != mirror {
			continue
		}
		order := x.mask.order()
		r := l.from[x.key]
		for ; r <= l.board.h-x.mask.h; r++ {
			if found && r > best.r {
				break
			}
			from, to := l.rungs.fitRow(x.mask, r, order, buf)
			if from == to {
				continue
			}
			c := 64*from + firstBit(buf[from])
			if !found || r < best.r || c < best.c {
				best, found = spot{x, c, r}, true
			}
			break
		}
		l.from[x.key] = r
	}
	return best, found
}

func firstBit(w uint64) int {
	for i := range 64 {
		if w>>i&1 == 1 {
			return i
		}
	}
	return 64
}

// take marks the cells of a placement as used, on the placement's own board and
// on others, whose grids share their lines.
func (l *layer) take(of, b *Board, s spot) {
	dx := int(math.Round(float64((of.grid.origin.X - b.grid.origin.X) / b.grid.cell)))
	dy := int(math.Round(float64((of.grid.origin.Y - b.grid.origin.Y) / b.grid.cell)))
	low, high := b.h, 0
	for _, u := range s.pose.grown.runs {
		r := s.r + u.row + dy
		l.rungs.rungs[0].setRun(r, s.c+u.from+dx, s.c+u.to+dx, false)
		low, high = min(low, r), max(high, r+1)
	}
	if low = max(0, low); low < min(high, b.h) {
		l.rungs.refresh(low, min(high, b.h))
	}
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
func verify(boards []*Board, l Layout, gap hide.MM) error {
	for i, p := range l.Placed {
		ok, err := boards[p.Piece].covers(p.Shape)
		if err != nil {
			return err
		}
		if !ok {
			return hide.Faultf(hide.Internal, "layout: piece %d lies off the cuttable leather", i+1)
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

// Outlines are the shapes of a layout, in the order placed.
func (l Layout) Outlines() hide.Shape {
	var out hide.Shape
	for _, p := range l.Placed {
		out = append(out, p.Shape)
	}
	return slices.Clip(out)
}
