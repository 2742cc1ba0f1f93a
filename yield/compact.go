package yield

import (
	"math"
	"slices"

	"hidechart/hide"
)

// How far compacting goes.
const (
	compactRounds = 30   // most are still after ten
	compactStill  = 1e-3 // mm: a round that moves pieces less in sum is the last; the resolution of files
	compactTouch  = 1e-9 // mm: pieces that are so near touch
)

// compact slides pieces of a strip down, then to the left, as far as the polygons
// allow, the lowest first, until they lie still: what the raster's rounding left open
// is closed. Their order and turns stay.
func compact(placed []PlacedPiece, width hide.MM) {
	order := seq(len(placed))
	for range compactRounds {
		slices.SortStableFunc(order, func(a, b int) int {
			return compare(float64(lowest(placed[a])), float64(lowest(placed[b])))
		})
		total := hide.MM(0)
		for _, swap := range []bool{false, true} {
			for _, i := range order {
				d := slideRoom(placed, i, swap)
				if d <= 0 {
					continue
				}
				by := hide.Point{Y: -d}
				if swap {
					by = hide.Point{X: -d}
				}
				placed[i].Shape = moved(placed[i].Shape, by)
				total += d
			}
		}
		if total < compactStill {
			return
		}
	}
}

func lowest(p PlacedPiece) hide.MM {
	b, _ := boxOf(hide.Shape{p.Shape})
	return b.Min.Y
}

// slideRoom is how far piece i can move down (swap: to the left) before it meets the
// strip's edge at 0 or another piece. Holes of other pieces count as filled.
func slideRoom(placed []PlacedPiece, i int, swap bool) hide.MM {
	a := swapped(placed[i].Shape.Outer, swap)
	boxA, _ := boxOf(hide.Shape{{Outer: a}})
	room := float64(boxA.Min.Y)
	for j := range placed {
		if j == i {
			continue
		}
		b := swapped(placed[j].Shape.Outer, swap)
		boxB, _ := boxOf(hide.Shape{{Outer: b}})
		if boxB.Min.X >= boxA.Max.X || boxA.Min.X >= boxB.Max.X || boxB.Min.Y >= boxA.Max.Y {
			continue
		}
		room = min(room, ringRoom(a, b))
	}
	return hide.MM(max(0, room-compactTouch))
}

func swapped(r hide.Ring, swap bool) hide.Ring {
	if !swap {
		return r
	}
	out := make(hide.Ring, len(r))
	for i, p := range r {
		out[i] = hide.Point{X: p.Y, Y: p.X}
	}
	return out
}

// ringRoom is how far ring a can move down before it meets b: the least distance, up
// or down, from a vertex of one to an edge of the other, over the span of x that both
// share. Edges that only touch the span from outside do not count, so that pieces side
// by side pass each other. Rings that overlap by rounding have no room.
func ringRoom(a, b hide.Ring) float64 {
	boxA, _ := boxOf(hide.Shape{{Outer: a}})
	boxB, _ := boxOf(hide.Shape{{Outer: b}})
	left, right := max(boxA.Min.X, boxB.Min.X), min(boxA.Max.X, boxB.Max.X)
	room := math.Inf(1)
	if right-left <= compactTouch {
		return room
	}
	drop := func(from, onto hide.Ring, sign float64) {
		for i, p := range onto {
			q := onto[(i+1)%len(onto)]
			if p.X > q.X {
				p, q = q, p
			}
			if q.X-p.X <= compactTouch || q.X <= left+compactTouch || p.X >= right-compactTouch {
				continue
			}
			for _, v := range from {
				if v.X < max(p.X, left)-compactTouch || v.X > min(q.X, right)+compactTouch {
					continue
				}
				y := float64(p.Y) + min(1, max(0, float64((v.X-p.X)/(q.X-p.X))))*float64(q.Y-p.Y)
				if d := sign * (float64(v.Y) - y); d >= -1e-6 { // mm: a touch rounded to an overlap
					room = min(room, max(0, d))
				}
			}
		}
	}
	drop(a, b, 1)
	drop(b, a, -1)
	return room
}
