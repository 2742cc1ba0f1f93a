package yield

import (
	"slices"

	"hidechart/hide"
)

// How the range of whole sets is sampled.
const (
	// setsSamples: the 10 and 90 % points are the 3rd and 19th of the sorted drawings,
	// within 7 % of their rank (√(0.1·0.9/21)); a layout each.
	setsSamples = 21
	// setsCell in mm, at least: the drawings are compared with the charted state on the
	// same raster, so that only the difference counts.
	setsCell = 4
)

// setsRange is the range of whole sets over the first drawings of what is real:
// greedy layouts on a coarse raster, as many more or fewer than the charted state's
// on that raster as the drawing gives, added to the sets that were found.
func setsRange(boards []lookBoard, looks map[string]*Board, pieces Pieces, p LayoutParams, found int) (Range, error) {
	same := Range{float64(found), float64(found), float64(found)}
	d := setsDrawing{boards: boards, looks: looks, pieces: pieces, p: p, cuts: map[*Board]Cut{}, cell: max(setsCell, boards[0].grid.cell)}
	doubt := false
	for _, b := range boards {
		d.cuts[b.Board] = b.cut
		doubt = doubt || slices.ContainsFunc(b.cut.flaws, func(f flaw) bool { return f.p > 0 && f.p < 1 })
	}
	if !doubt {
		return same, nil
	}
	d.p.Tries, d.p.TimeLimit, d.p.FillUp = 0, 0, false
	if p.MostSets == 0 {
		d.p.MostSets = 2*found + 20 // a review does not more than double a yield of many sets
	}
	charted, err := d.lay(-1)
	if err != nil {
		return same, err
	}
	values := make([]float64, min(setsSamples, boards[0].cut.p.Samples))
	for s := range values {
		n, err := d.lay(s)
		if err != nil {
			return same, err
		}
		values[s] = float64(max(0, found+n-charted))
	}
	return sortedRange(values), nil
}

// setsDrawing lays the pieces out on drawings of a hide.
type setsDrawing struct {
	boards []lookBoard // by piece
	looks  map[string]*Board
	pieces Pieces
	p      LayoutParams
	cuts   map[*Board]Cut
	cell   hide.MM
}

// lay is the number of sets on drawing s; −1: as charted. Looks that only parts ask
// for stay as charted.
func (d setsDrawing) lay(s int) (int, error) {
	drawn := map[*Board]*Board{}
	for b, c := range d.cuts {
		n, err := c.drawnBoard(s, b, d.cell)
		if err != nil {
			return 0, err
		}
		drawn[b] = n
	}
	p := d.p
	p.Looks = map[string]*Board{}
	for name, b := range d.looks {
		if drawn[b] == nil {
			n, err := boardLike(b, b.region, d.cell)
			if err != nil {
				return 0, err
			}
			drawn[b] = n
		}
		p.Looks[name] = drawn[b]
	}
	list := make([]*Board, len(d.boards))
	for i, b := range d.boards {
		list[i] = drawn[b.Board]
	}
	k, err := newPacker(list, d.pieces.List, p)
	if err != nil {
		return 0, err
	}
	_, sets := k.greedy(max(1, p.MostSets))
	return sets, nil
}

// drawnBoard is the board of drawing s; −1: as charted.
func (c *Cut) drawnBoard(s int, like *Board, cell hide.MM) (*Board, error) {
	free, err := c.without(func(f flaw) bool { return f.p == 1 })
	if err != nil {
		return nil, err
	}
	b, err := boardLike(like, free, cell)
	if err != nil {
		return nil, err
	}
	d := &drawing{p: c.p, flaws: c.flaws, normals: c.cutter.normals}
	d.decide()
	for i, f := range c.flaws {
		if f.p < 1 && (s < 0 && f.p >= c.p.Likely || s >= 0 && d.real[i][s]) {
			b.grid.erase(b.free, f.removed)
		}
	}
	return b, nil
}

// boardLike is a board of another region and cell that covers what a board covers.
func boardLike(b *Board, region hide.Shape, cell hide.MM) (*Board, error) {
	out := &Board{region: region, Backbone: b.Backbone}
	box := Box{b.grid.origin, b.grid.at(b.w, b.h)}
	return out, out.rasterise(box, cell)
}
