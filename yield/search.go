package yield

import (
	"math/rand/v2"
	"slices"
	"time"

	"hidechart/hide"
)

// search tries other orders of the pieces for one set more than the greedy layout
// has: from the best order so far, a few items are moved to the front or swapped; an
// order that puts at least as much leather into pieces is kept. It is a random
// descent without memory, seeded, and ends after Tries orders, at the limit, or at
// the time limit.
func (k *packer) search(best Layout, sets, limit int) (Layout, int) {
	rng := rand.New(rand.NewPCG(k.p.Seed, uint64(len(k.pieces))))
	wanted := min(sets+1, limit)
	var order []item
	area := hide.MM2(-1)
	for k.tried = 0; k.tried < k.p.Tries && sets < limit && k.couldHold(wanted); k.tried++ {
		if !k.until.IsZero() && time.Now().After(k.until) {
			k.stopped = true
			break
		}
		next := itemsOf(k.pieces, wanted)
		if order != nil {
			next = shuffled(order, rng)
		}
		l, ok := k.run(next, false)
		if ok {
			best, sets = l, wanted
			wanted, order, area = min(sets+1, limit), nil, -1
			continue
		}
		if a := l.area(); a >= area {
			order, area = next, a
			if sets == 0 {
				best = l
			}
		}
	}
	if sets == 0 && best.Placed == nil {
		best, _ = k.run(itemsOf(k.pieces, 1), false)
	}
	return best, sets
}

// couldHold: by area alone.
func (k *packer) couldHold(sets int) bool {
	var need hide.MM2
	for _, q := range k.pieces {
		need += hide.MM2(sets*q.Count) * q.Area()
	}
	var most hide.MM2
	for b := range k.ready {
		most = max(most, b.region.Area())
	}
	return need <= most
}

func (l Layout) area() hide.MM2 {
	var a hide.MM2
	for _, p := range l.Placed {
		a += p.Shape.Area()
	}
	return a
}

// shuffled moves up to three items to other places of the order.
func shuffled(order []item, rng *rand.Rand) []item {
	out := slices.Clone(order)
	for range 1 + rng.IntN(3) {
		from, to := rng.IntN(len(out)), rng.IntN(len(out))
		it := out[from]
		out = slices.Insert(slices.Delete(out, from, from+1), to, it)
	}
	return out
}

// fillUp adds the pieces of one further set that fit beside the whole sets: on the
// leather that the layout leaves, large pieces first.
func (k *packer) fillUp(l *Layout) {
	if l.Sets == 0 {
		l.Extra = len(l.Placed)
		return
	}
	w := k.newBench()
	for _, p := range l.Placed {
		w.lay(p)
	}
	before := len(l.Placed)
	for _, it := range itemsOf(k.pieces, 1) {
		w.place(l, it)
	}
	l.Extra = len(l.Placed) - before
}

// lay takes the leather of a piece that lies already.
func (w *bench) lay(p PlacedPiece) {
	board := w.k.boards[p.Piece]
	for _, x := range w.k.poses[p.Piece] {
		if x.Turn != p.Turn || x.Mirror != p.Mirror {
			continue
		}
		c, r := board.grid.local(p.at)
		s := spot{x, round(c) + x.grown.dx, round(r) + x.grown.dy}
		for b, free := range w.free {
			free.take(board, b, s)
		}
		return
	}
}
