package yield

import (
	"slices"

	"hidechart/hide"
)

// How the range of what a piece can reach is sampled.
const (
	// reachSamples puts the 10 and 90 % points at the 4th and 36th of the sorted
	// drawings: within 5 % of their rank (√(0.1·0.9/40)), and keeps a piece of four
	// turns within a second or two.
	reachSamples = 41
	// reachCell in mm, at least: only the ratio to the charted state is taken from
	// this raster, and a flaw's margin is some millimetres.
	reachCell = 3
)

// fitsRange is the range of the leather that a piece can reach, over the same
// drawings as the cuttable area's, the first reachSamples of them. Each drawing
// is compared with the charted state on a coarse raster, and the ratio applied to
// what was found on the board (charted).
func (c *Cut) fitsRange(p Piece, b lookBoard, charted hide.MM2) (Range, error) {
	same := float64(charted)
	doubtful := slices.DeleteFunc(slices.Clone(c.flaws), func(f flaw) bool { return f.p == 0 || f.p == 1 })
	if len(doubtful) == 0 || charted == 0 {
		return Range{same, same, same}, nil
	}
	free, err := c.without(func(f flaw) bool { return f.p == 1 })
	if err != nil {
		return Range{}, err
	}
	coarse, err := NewBoard(free, max(b.grid.cell, reachCell), [2]hide.Point{})
	if err != nil {
		return Range{}, err
	}
	coarse.Backbone = b.Backbone
	outers, inners := coarse.masks(p)
	reach := func(isReal func(i int) bool) float64 {
		left := coarse.free.clone()
		for i, f := range doubtful {
			if isReal(i) {
				coarse.grid.erase(left, f.removed)
			}
		}
		return float64(usableCells(left, outers, inners).count())
	}
	base := reach(func(i int) bool { return doubtful[i].p >= c.p.Likely })
	if base == 0 { // too coarse for this piece: nothing can be said but the charted state
		return Range{same, same, same}, nil
	}
	d := &drawing{p: c.p, flaws: doubtful, normals: c.cutter.normals}
	d.decide()
	values := make([]float64, min(reachSamples, c.p.Samples))
	for s := range values {
		values[s] = same * reach(func(i int) bool { return d.real[i][s] }) / base
	}
	return sortedRange(values), nil
}

// erase takes a shape off a bitmap, with every cell that it touches.
func (g grid) erase(b *bitmap, s hide.Shape) {
	var rings []hide.Ring
	for _, p := range s {
		rings = append(append(rings, p.Outer), p.Holes...)
	}
	g.scan(rings, b.h, func(r, c0, c1 int) { b.setRun(r, c0, c1, false) })
	for _, ring := range rings {
		for i, p := range ring {
			g.edgeCells(p, ring[(i+1)%len(ring)], b.h, func(r, c0, c1 int) { b.setRun(r, c0, c1, false) })
		}
	}
}

// masks are the cells of a piece in all its poses: every cell touched, and those
// wholly inside, with one corner.
func (b *Board) masks(p Piece) (outers, inners []mask) {
	for _, pose := range b.Poses(p) {
		m := b.mask(hide.Shape{pose.shape}, outer)
		outers = append(outers, m)
		inners = append(inners, b.mask(hide.Shape{pose.shape}, inner).onto(m))
	}
	return outers, inners
}

// usableCells is the union of all placements on free cells.
func usableCells(free *bitmap, outers, inners []mask) *bitmap {
	longest := 1
	for _, m := range outers {
		longest = max(longest, m.longest())
	}
	l := newLadder(free, longest)
	out := newBitmap(free.w, free.h)
	for i, m := range outers {
		out.or(spread(l.fit(m), inners[i]))
	}
	return out
}
