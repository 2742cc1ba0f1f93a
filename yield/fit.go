package yield

import (
	"math"
	"slices"

	"hidechart/hide"
	"hidechart/plane"
)

// Board is cuttable leather on a raster, ready to have pieces tried on it.
type Board struct {
	region   hide.Shape
	grid     grid
	w, h     int
	free     *bitmap // cells wholly inside: never claims what is not there
	touched  *bitmap // cells the region reaches into: for upper bounds
	Backbone float64 // direction that grain lines take, degrees from x towards y
}

// largestBoard in cells: 400 million, 50 MB a bitmap, is a hide of 10 m² at
// 0.16 mm.
const largestBoard = 4e8

// NewBoard puts a cuttable region on a raster of the given cell, in mm. Errors:
// Invalid for a cell that makes the raster too large, or not positive.
func NewBoard(region hide.Shape, cell hide.MM, backbone [2]hide.Point) (*Board, error) {
	if !(cell > 0) || math.IsInf(float64(cell), 0) {
		return nil, hide.Faultf(hide.Invalid, "fit: cell of %g mm", cell)
	}
	b := &Board{region: region}
	if d := backbone[0].Distance(backbone[1]); d > 0 {
		b.Backbone = math.Atan2(float64(backbone[1].Y-backbone[0].Y), float64(backbone[1].X-backbone[0].X)) * 180 / math.Pi
	}
	box, _ := boxOf(region)
	return b, b.rasterise(box, cell)
}

// NewBoards puts the regions of several looks of one hide on one grid, that of
// the outline: parts of a piece can then lie on different ones. Errors: as NewBoard.
func NewBoards(outline hide.Polygon, regions []hide.Shape, cell hide.MM, backbone [2]hide.Point) ([]*Board, error) {
	box, _ := boxOf(hide.Shape{outline})
	out := make([]*Board, len(regions))
	for i, r := range regions {
		b, err := NewBoard(nil, cell, backbone)
		if err != nil {
			return nil, err
		}
		b.region = r
		if err := b.rasterise(box, cell); err != nil {
			return nil, err
		}
		out[i] = b
	}
	return out, nil
}

func (b *Board) rasterise(box Box, cell hide.MM) error {
	if n := float64(box.Max.X-box.Min.X) * float64(box.Max.Y-box.Min.Y) / float64(cell*cell); n > largestBoard {
		return hide.Faultf(hide.Invalid, "fit: %g mm cells make %.0f million of them, at most %g", cell, n/1e6, largestBoard/1e6)
	}
	b.grid, b.w, b.h = gridOver(box, cell)
	b.free = b.grid.fill(b.region, b.w, b.h, inner)
	b.touched = b.grid.fill(b.region, b.w, b.h, outer)
	return nil
}

// Pose is a piece turned, and mirrored before that if so.
type Pose struct {
	Turn   float64 // one of the piece's Turns
	Mirror bool
	shape  hide.Polygon // reference point at 0, 0: the corner of its box
	parts  []hide.Shape // in the piece's frame as posed
}

// Poses lists how a piece may lie on the board: each turn, and mirrored ones
// for pairs.
func (b *Board) Poses(p Piece) []Pose {
	mirrors := []bool{false}
	if p.Pair {
		mirrors = []bool{false, true}
	}
	var out []Pose
	for _, m := range mirrors {
		for _, t := range p.Turns {
			shape, parts := p.turnedParts(p.angle(t, b.Backbone, m), m)
			out = append(out, Pose{Turn: t, Mirror: m, shape: shape, parts: parts})
		}
	}
	return out
}

// mask puts a shape of a pose on cells. The reference point is a corner of four
// cells.
func (b *Board) mask(s hide.Shape, how rounding) mask {
	box, _ := boxOf(s)
	g, w, h := gridOver(box, b.grid.cell)
	x, y := g.local(hide.Point{})
	return newMask(g.fill(s, w, h, how), -int(math.Round(x)), -int(math.Round(y))).trimmed()
}

// Places is where the reference point of a posed piece can be, among the
// corners of the cells.
type Places struct {
	Pose  Pose
	board *Board
	at    *bitmap // of the mask's corner
	mask  mask
}

// Fit is the region of reference points at which a pose lies wholly in the
// cuttable region. Each place it gives is a fit; a fit by less than two cells may be
// missed, for the region is rounded inward and the piece outward.
func (b *Board) Fit(pose Pose) Places {
	m := b.mask(hide.Shape{pose.shape}, outer)
	return Places{Pose: pose, board: b, at: newLadder(b.free, m.longest()).fit(m), mask: m}
}

// Count is the number of places.
func (p Places) Count() int { return p.at.count() }

// Area of the region of reference points.
func (p Places) Area() hide.MM2 {
	return hide.MM2(p.Count()) * hide.MM2(p.board.grid.cell*p.board.grid.cell)
}

// Each calls do with every place, row by row from the lowest.
func (p Places) Each(do func(hide.Point)) {
	for r := range p.at.h {
		for c := range p.at.w {
			if p.at.has(c, r) {
				do(p.board.grid.at(c-p.mask.dx, r-p.mask.dy))
			}
		}
	}
}

// Placed is the piece's polygon with its reference point at a place.
func (p Pose) Placed(at hide.Point) hide.Polygon { return moved(p.shape, at) }

// PieceFit is what the board offers a piece.
type PieceFit struct {
	Usable     hide.MM2 // union of all placements, rounded inward: what the piece can reach
	UpperBound int      // no layout holds more of it, at the allowed turns
	Region     hide.MM2 // of reference points, summed over the poses
}

// Reach tries a piece in all its poses.
//
// The bound: a placement anywhere, off the raster too, covers the cells that lie
// in the piece however it is shifted within a cell; where these touch the cuttable
// region everywhere a placement is taken as possible. The union of what pieces at
// these places could cover, or the cuttable area if less, divided by the piece's
// area bounds the number.
func (b *Board) Reach(p Piece) PieceFit {
	var out PieceFit
	usable, most := newBitmap(b.w, b.h), newBitmap(b.w, b.h)
	outers, inners := b.masks(p)
	longest := 1
	for _, m := range outers {
		longest = max(longest, m.longest())
	}
	strict, generous := newLadder(b.free, longest), newLadder(b.touched, longest)
	for i, pose := range b.Poses(p) {
		at := strict.fit(outers[i])
		out.Region += hide.MM2(at.count()) * hide.MM2(b.grid.cell*b.grid.cell)
		usable.or(spread(at, inners[i]))
		core, big := b.shiftMasks(pose.shape)
		if len(core.runs) == 0 { // narrower than two cells: nothing can be ruled out
			most.or(b.touched)
			continue
		}
		most.or(spread(generous.fit(core), big.onto(core)))
	}
	cell2 := hide.MM2(b.grid.cell * b.grid.cell)
	out.Usable = hide.MM2(usable.count()) * cell2
	bound := min(hide.MM2(most.count())*cell2, b.region.Area())
	out.UpperBound = int(float64(bound/p.Area()) * (1 + 1e-9)) // exact multiples are not lost to rounding
	return out
}

// reachParts is Reach for a piece with parts: the leather that whole placements
// cover, each part on its own look's. The bound is by area of all these looks'
// leather.
func (b *Board) reachParts(p Piece, looks map[string]*Board) (PieceFit, error) {
	if len(p.Parts) == 0 {
		return b.Reach(p), nil
	}
	all := []hide.Shape{b.region}
	for _, part := range p.Parts {
		board, err := partBoard(part, looks)
		if err != nil {
			return PieceFit{}, err
		}
		all = append(all, board.region)
	}
	var out PieceFit
	usable, cell2 := newBitmap(b.w, b.h), hide.MM2(b.grid.cell*b.grid.cell)
	for _, pose := range b.Poses(p) {
		x, err := posedOn(b, pose, p.Parts, LayoutParams{Looks: looks})
		if err != nil {
			return PieceFit{}, err
		}
		at := newLadder(b.free, x.mask.longest()).fit(x.mask)
		for _, part := range x.parts {
			at.and(newLadder(part.board.free, part.mask.longest()).fit(part.mask))
		}
		out.Region += hide.MM2(at.count()) * cell2
		usable.or(spread(at, b.mask(hide.Shape{pose.shape}, inner).onto(x.grown)))
	}
	region, err := plane.Union(all...)
	if err != nil {
		return PieceFit{}, err
	}
	out.Usable = hide.MM2(usable.count()) * cell2
	out.UpperBound = int(float64(region.Area()/p.Area()) * (1 + 1e-9))
	return out, nil
}

// onto gives a mask with the corner of another one of the same piece; its runs
// may reach to negative rows and columns.
func (m mask) onto(o mask) mask {
	out := mask{w: o.w, h: o.h, dx: o.dx, dy: o.dy}
	for _, u := range m.runs {
		out.runs = append(out.runs, run{u.row + m.dy - o.dy, u.from + m.dx - o.dx, u.to + m.dx - o.dx})
	}
	return out
}

// shiftMasks are the cells that a piece covers at every shift within a cell, and
// those that it reaches at some shift.
func (b *Board) shiftMasks(s hide.Polygon) (core, big mask) {
	box, _ := boxOf(hide.Shape{s})
	g, w, h := gridOver(box, b.grid.cell)
	x, y := g.local(hide.Point{})
	in, out := g.fill(hide.Shape{s}, w+1, h+1, inner), g.fill(hide.Shape{s}, w+1, h+1, outer)
	always, ever := newBitmap(w+1, h+1), newBitmap(w+1, h+1)
	for r := range h + 1 {
		for c := range w + 1 {
			all, some := true, false
			for _, d := range [][2]int{{0, 0}, {1, 0}, {0, 1}, {1, 1}} {
				all = all && in.has(c-d[0], r-d[1])
				some = some || out.has(c-d[0], r-d[1])
			}
			if all {
				always.setRun(r, c, c, true)
			}
			if some {
				ever.setRun(r, c, c, true)
			}
		}
	}
	dx, dy := -int(math.Round(x)), -int(math.Round(y))
	return newMask(always, dx, dy).trimmed(), newMask(ever, dx, dy)
}

// trimmed cuts empty rows and columns off, so that the corner is a cell of the
// mask's box: what lies outside of it need not be on the board.
func (m mask) trimmed() mask {
	if len(m.runs) == 0 {
		return m
	}
	x0, x1, y0, y1 := math.MaxInt, 0, math.MaxInt, 0
	for _, u := range m.runs {
		x0, x1, y0, y1 = min(x0, u.from), max(x1, u.to), min(y0, u.row), max(y1, u.row)
	}
	out := mask{w: x1 - x0 + 1, h: y1 - y0 + 1, dx: m.dx + x0, dy: m.dy + y0}
	for _, u := range m.runs {
		out.runs = append(out.runs, run{u.row - y0, u.from - x0, u.to - x0})
	}
	return out
}

// covers reports by polygons whether a placed piece lies in the region, but for
// slivers of rounding.
func (b *Board) covers(s hide.Shape) (bool, error) {
	out, err := plane.Difference(s, b.region)
	if err != nil {
		return false, err
	}
	return out.Area() <= sliver, nil
}

// sliver in mm²: a micrometre along a metre, the resolution of charts.
const sliver = 1

// sortedBySize lists indices of pieces, largest area first, then by name.
func sortedBySize(list []Piece) []int {
	out := make([]int, len(list))
	for i := range out {
		out[i] = i
	}
	slices.SortStableFunc(out, func(i, j int) int {
		switch a, b := list[i].Area(), list[j].Area(); {
		case a > b:
			return -1
		case a < b:
			return 1
		}
		return i - j
	})
	return out
}

func round(v float64) int { return int(math.Round(v)) }
