package yield

import (
	"math"
	"math/bits"
	"time"

	"hidechart/hide"
	"hidechart/plane"
)

// packer lays pieces on boards, in any order asked for.
type packer struct {
	boards  []*Board
	pieces  []Piece
	poses   [][]posed
	p       LayoutParams
	ready   map[*Board]*ladder // of the free leather, to be copied
	until   time.Time
	tried   int
	stopped bool
}

// item is one piece to place.
type item struct {
	piece  int
	mirror bool
}

// posed is a pose with its cells: of the piece, and grown by the gap. Where a part
// needs another look, mask is the rest of the piece and parts are the parts'.
type posed struct {
	Pose
	mask  mask
	order []int // of the mask's runs
	grown mask
	parts []posedPart
}

// posedPart is a part of a posed piece on the board of its look; its mask has the
// piece's corner.
type posedPart struct {
	board *Board
	shape hide.Shape
	mask  mask
	order []int
}

func newPacker(boards []*Board, pieces []Piece, p LayoutParams) (*packer, error) {
	if len(boards) != len(pieces) || len(pieces) == 0 {
		return nil, hide.Faultf(hide.Invalid, "layout: %d boards for %d pieces", len(boards), len(pieces))
	}
	k := &packer{boards: boards, pieces: pieces, p: p, ready: map[*Board]*ladder{}}
	if p.TimeLimit > 0 {
		k.until = time.Now().Add(p.TimeLimit)
	}
	longest := map[*Board]int{}
	for i, q := range pieces {
		var list []posed
		for _, pose := range boards[i].Poses(q) {
			x, err := posedOn(boards[i], pose, q.Parts, p)
			if err != nil {
				return nil, hide.Wrapf(hide.KindOf(err), err, "piece %q", q.Name)
			}
			longest[boards[i]] = max(longest[boards[i]], x.mask.longest())
			for _, s := range x.parts {
				longest[s.board] = max(longest[s.board], s.mask.longest())
			}
			list = append(list, x)
		}
		k.poses = append(k.poses, list)
	}
	for b, n := range longest {
		k.ready[b] = newLadder(b.free, n)
	}
	return k, nil
}

func partBoard(part Part, looks map[string]*Board) (*Board, error) {
	b, ok := looks[part.Look]
	if !ok {
		return nil, hide.Faultf(hide.Invalid, "part %q needs look %q, and there is no board of it", part.Name, part.Look)
	}
	return b, nil
}

func posedOn(b *Board, pose Pose, parts []Part, p LayoutParams) (posed, error) {
	full := b.mask(hide.Shape{pose.shape}, outer)
	x := posed{Pose: pose, mask: full, grown: full}
	if p.Gap > 0 {
		// an upright box of the gap around each cell: no less than a round one
		x.grown = full.grownBy(int(math.Ceil(float64(p.Gap / b.grid.cell))))
	}
	rest := hide.Shape{pose.shape}
	for i, part := range parts {
		board, err := partBoard(part, p.Looks)
		if err != nil {
			return posed{}, err
		}
		if board.grid != b.grid || board.w != b.w || board.h != b.h {
			return posed{}, hide.Faultf(hide.Invalid, "part %q: its board has another grid", part.Name)
		}
		shape := pose.parts[i]
		m := board.mask(shape, outer).onto(full).within()
		x.parts = append(x.parts, posedPart{board: board, shape: shape, mask: m, order: m.order()})
		if rest, err = plane.Difference(rest, shape); err != nil {
			return posed{}, err
		}
	}
	if len(parts) > 0 {
		x.mask = b.mask(rest, outer).onto(full).within()
	}
	x.order = x.mask.order()
	return x, nil
}

// within cuts what a mask has beyond its own box, a cell that only rounding
// reached.
func (m mask) within() mask {
	out := m
	out.runs = nil
	for _, u := range m.runs {
		u.from, u.to = max(0, u.from), min(m.w-1, u.to)
		if u.row >= 0 && u.row < m.h && u.from <= u.to {
			out.runs = append(out.runs, u)
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

// bench is the leather in use: what is still free of each board, and how far up
// each pose was found blocked. Free leather only shrinks, so a pose is never
// sought again below its last place.
type bench struct {
	k    *packer
	free map[*Board]*ladder
	from [][]int // by piece and pose
	buf  [2][]uint64
	// byTop: of the turns, the one whose top is lowest; else the one whose bottom is.
	byTop bool
}

func (k *packer) newBench() *bench {
	w := &bench{k: k, free: map[*Board]*ladder{}, from: make([][]int, len(k.pieces))}
	stride := 0
	for b, l := range k.ready {
		w.free[b] = l.clone()
		stride = max(stride, b.free.stride)
	}
	for i := range w.from {
		w.from[i] = make([]int, len(k.poses[i]))
	}
	w.buf = [2][]uint64{make([]uint64, stride), make([]uint64, stride)}
	return w
}

func (l *ladder) clone() *ladder {
	out := &ladder{}
	for _, b := range l.rungs {
		out.rungs = append(out.rungs, b.clone())
	}
	return out
}

// run places items in their order; whole: it stops at the first that does not fit.
// ok says that all did.
func (k *packer) run(items []item, whole bool) (l Layout, ok bool) {
	w := k.newBench()
	ok = true
	for _, it := range items {
		if w.place(&l, it) {
			continue
		}
		ok = false
		if whole {
			return l, false
		}
	}
	return l, ok
}

// spot is a place found for a pose, the mask's corner at cell c, r.
type spot struct {
	pose posed
	c, r int
}

// place puts an item on the bench and into the layout, if there is room.
func (w *bench) place(l *Layout, it item) bool {
	s, ok := w.find(it)
	if ok {
		w.settle(l, it, s)
	}
	return ok
}

// settle takes the leather of a place that was found.
func (w *bench) settle(l *Layout, it item, s spot) {
	board := w.k.boards[it.piece]
	at := board.grid.at(s.c-s.pose.grown.dx, s.r-s.pose.grown.dy)
	for b, free := range w.free {
		free.take(board, b, s)
	}
	x := PlacedPiece{Piece: it.piece, Turn: s.pose.Turn, Mirror: s.pose.Mirror, Shape: s.pose.Placed(at), at: at, pose: s.pose.Pose}
	for _, part := range s.pose.parts {
		x.Parts = append(x.Parts, movedShape(part.shape, at))
	}
	l.Placed = append(l.Placed, x)
}

// find is the lowest, then leftmost place over an item's poses.
func (w *bench) find(it item) (spot, bool) {
	best, found := spot{}, false
	board := w.k.boards[it.piece]
	level := func(x posed, r int) int {
		if w.byTop {
			return r + x.mask.h
		}
		return r
	}
	for i, x := range w.k.poses[it.piece] {
		if x.Mirror != it.mirror {
			continue
		}
		r := w.from[it.piece][i]
		for ; r <= board.h-x.mask.h; r++ {
			if found && level(x, r) > level(best.pose, best.r) {
				break
			}
			from, to, buf := w.fitRow(board, x, r)
			if from == to {
				continue
			}
			c := 64*from + bits.TrailingZeros64(buf[from])
			if !found || level(x, r) < level(best.pose, best.r) || c < best.c {
				best, found = spot{x, c, r}, true
			}
			break
		}
		w.from[it.piece][i] = r
	}
	return best, found
}

// fitRow is where in a row a posed piece fits, its parts on their own leather.
func (w *bench) fitRow(board *Board, x posed, r int) (from, to int, out []uint64) {
	out = w.buf[0][:board.free.stride]
	from, to = w.free[board].fitRow(x.mask, r, x.order, out)
	for _, part := range x.parts {
		if from == to {
			break
		}
		other := w.buf[1][:part.board.free.stride]
		f, t := w.free[part.board].fitRow(part.mask, r, part.order, other)
		from, to = max(from, f), min(to, t)
		for i := from; i < to; i++ {
			out[i] &= other[i]
		}
		for from < to && out[from] == 0 {
			from++
		}
		to = max(from, to)
	}
	return from, to, out
}

// take marks the cells of a placement as used, on the placement's own board and
// on others, whose grids share their lines.
func (l *ladder) take(of, b *Board, s spot) {
	dx := int(math.Round(float64((of.grid.origin.X - b.grid.origin.X) / b.grid.cell)))
	dy := int(math.Round(float64((of.grid.origin.Y - b.grid.origin.Y) / b.grid.cell)))
	low, high := b.h, 0
	for _, u := range s.pose.grown.runs {
		r := s.r + u.row + dy
		l.rungs[0].setRun(r, s.c+u.from+dx, s.c+u.to+dx, false)
		low, high = min(low, r), max(high, r+1)
	}
	if low = max(0, low); low < min(high, b.h) {
		l.refresh(low, min(high, b.h))
	}
}

func movedShape(s hide.Shape, by hide.Point) hide.Shape {
	out := make(hide.Shape, len(s))
	for i, p := range s {
		out[i] = moved(p, by)
	}
	return out
}
