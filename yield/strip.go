package yield

import (
	"math"
	"math/rand/v2"
	"slices"
	"sync"
	"time"

	"hidechart/hide"
)

// StripParams bound the packing of a strip.
type StripParams struct {
	Cell      hide.MM // raster of the search
	Steps     int     // of the search, stripBatch orders each
	Seed      uint64
	TimeLimit time.Duration // 0: none; a search that it ends depends on the machine
}

// stripBatch orders are tried at a time, side by side on several cores; a fixed number,
// so that the result does not depend on the cores.
const stripBatch = 4

// Strip is a packing of all pieces into a strip of a given width.
type Strip struct {
	Length  hide.MM
	Used    float64 // share of width × length in pieces
	Placed  []PlacedPiece
	Tried   int
	Stopped bool // by the time limit
}

// PackStrip packs the pieces of one set into a strip of a width as short as it can:
// the benchmark of the cutting-and-packing literature, on which the layout's search
// is judged. Bottom-left filling over a sequence, the sequence by simulated annealing
// (Kirkpatrick, Gelatt & Vecchi 1983) from the order by size, then pieces slide down
// and aside by polygons. The strip runs upwards: y is its length. Verified by polygons.
//
// Errors: Invalid for a piece wider than the strip, or parameters that cannot be.
func PackStrip(pieces []Piece, width hide.MM, p StripParams) (Strip, error) {
	k, high, err := strip(pieces, width, p)
	if err != nil {
		return Strip{}, err
	}
	best, tried, stopped := k.anneal(k.first(), p, annealHeat)
	// the order found is kept on a raster three times as fine, a tenth as long and cold:
	// a third of the rounding at about the same cost
	fine := p
	fine.Cell, fine.Steps = p.Cell/3, p.Steps/10
	if k, err = newStrip(pieces, width, high, fine); err != nil {
		return Strip{}, err
	}
	again, n, late := k.anneal(best.order, fine, 0)
	out, other := finished(best.placed, width), finished(again.placed, width)
	if other.Length > 0 && other.Length < out.Length {
		out = other
	}
	out.Tried, out.Stopped = tried+n, stopped || late
	return out, verify(k.boards, pieces, Layout{Placed: out.Placed}, LayoutParams{})
}

// finished slides the pieces together and measures the strip.
func finished(placed []PlacedPiece, width hide.MM) Strip {
	out, area := Strip{Placed: placed}, hide.MM2(0)
	compact(out.Placed, width)
	for _, q := range out.Placed {
		box, _ := boxOf(hide.Shape{q.Shape})
		out.Length = max(out.Length, box.Max.Y)
		area += q.Shape.Area()
	}
	out.Used = share(area, hide.MM2(out.Length*width))
	return out
}

// stripSearch is a packer on a strip.
type stripSearch struct{ *packer }

// strip makes a board that the first order fits on: twice the pieces' area and two of
// the longest piece are long enough as a rule; spiky pieces need more, at most all of them
// in a row. Error: Invalid when not even that holds them, for then one is too wide.
func strip(pieces []Piece, width hide.MM, p StripParams) (*stripSearch, hide.MM, error) {
	area, longest, row := hide.MM2(0), hide.MM(0), hide.MM(0)
	for _, q := range pieces {
		w, h := q.Size()
		area += hide.MM2(q.Count) * q.Area()
		longest = max(longest, w, h)
		row += hide.MM(q.Count) * hide.MM(math.Hypot(float64(w), float64(h)))
	}
	for high := 2*hide.MM(area/hide.MM2(max(width, 1e-3))) + 2*longest; ; high *= 2 {
		k, err := newStrip(pieces, width, high, p)
		if err != nil {
			return nil, 0, err
		}
		if k.pack(k.first()).placed != nil {
			return k, high, nil
		}
		if high > 2*row {
			return nil, 0, hide.Faultf(hide.Invalid, "strip: a piece is wider than the strip of %g mm", float64(width))
		}
	}
}

func newStrip(pieces []Piece, width, high hide.MM, p StripParams) (*stripSearch, error) {
	if !(width > 0) || !(p.Cell > 0) || p.Steps < 0 {
		return nil, hide.Faultf(hide.Invalid, "strip: width %g mm, cell %g mm, %d steps", float64(width), float64(p.Cell), p.Steps)
	}
	region := hide.Shape{{Outer: hide.Ring{{}, {X: width}, {X: width, Y: high}, {Y: high}}}}
	b, err := NewBoard(region, p.Cell, [2]hide.Point{})
	if err != nil {
		return nil, err
	}
	boards := make([]*Board, len(pieces))
	for i := range boards {
		boards[i] = b
	}
	k, err := newPacker(boards, pieces, LayoutParams{})
	return &stripSearch{k}, err
}

// stripOrder is a sequence; how a piece chooses among its turns goes with it: by the
// lowest bottom or by the lowest top.
type stripOrder struct {
	items []item
	byTop []bool
}

// stripTry is a packing and what it is worth: its length in cells, and, far behind it,
// the sum of the tops, which leads the search where the length stands still.
type stripTry struct {
	order  stripOrder
	placed []PlacedPiece
	cost   float64
}

func (k *stripSearch) pack(o stripOrder) stripTry {
	w := k.newBench()
	t := stripTry{order: o}
	top, sum := 0, 0.0
	var l Layout
	for i, it := range o.items {
		w.byTop = o.byTop[i]
		s, ok := w.find(it)
		if !ok {
			return stripTry{order: o, cost: math.Inf(1)}
		}
		w.settle(&l, it, s)
		high := s.r + s.pose.mask.h
		top = max(top, high)
		sum += float64(high)
	}
	t.placed = l.Placed
	t.cost = float64(top) + sum/float64(len(o.items))/1000
	return t
}

// annealHeat is the first temperature, as a share of the length: a packing 1 % longer
// is accepted now and then (e^−3.3). It falls to none.
const annealHeat = 0.012

// first is the order by size.
func (k *stripSearch) first() stripOrder {
	o := stripOrder{items: itemsOf(k.pieces, 1)}
	o.byTop = make([]bool, len(o.items))
	return o
}

// anneal searches orders from one on.
func (k *stripSearch) anneal(from stripOrder, p StripParams, start float64) (best stripTry, tried int, stopped bool) {
	rng := rand.New(rand.NewPCG(p.Seed, uint64(len(from.items))))
	at := k.pack(from)
	best, tried = at, 1
	var until time.Time
	if p.TimeLimit > 0 {
		until = time.Now().Add(p.TimeLimit)
	}
	for step := range p.Steps {
		if !until.IsZero() && time.Now().After(until) {
			return best, tried, true
		}
		next := k.neighbours(at.order, rng)
		tried += len(next)
		heat := start * best.cost * (1 - float64(step)/float64(p.Steps))
		pick := next[0]
		for _, t := range next[1:] {
			if t.cost < pick.cost {
				pick = t
			}
		}
		if pick.cost <= at.cost || heat > 0 && rng.Float64() < math.Exp((at.cost-pick.cost)/heat) {
			at = pick
		}
		if at.cost < best.cost {
			best = at
		}
	}
	return best, tried, false
}

// neighbours packs a batch of changed orders side by side.
func (k *stripSearch) neighbours(o stripOrder, rng *rand.Rand) []stripTry {
	orders := make([]stripOrder, stripBatch)
	for i := range orders {
		c := stripOrder{slices.Clone(o.items), slices.Clone(o.byTop)}
		n := len(c.items)
		switch rng.IntN(4) {
		case 0, 1: // swap two that are not far apart in the order: a small change of the packing
			a := rng.IntN(n)
			b := min(n-1, a+1+rng.IntN(1+n/6))
			c.items[a], c.items[b] = c.items[b], c.items[a]
		case 2: // move
			c.items = shuffled(c.items, rng)
		default:
			a := rng.IntN(n)
			c.byTop[a] = !c.byTop[a]
		}
		orders[i] = c
	}
	out := make([]stripTry, len(orders))
	var wait sync.WaitGroup
	for i := range orders {
		wait.Go(func() { out[i] = k.pack(orders[i]) })
	}
	wait.Wait()
	return out
}
