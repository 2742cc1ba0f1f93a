package yield

import (
	"math"
	"slices"
)

// offer is what one hide gives towards an order and what it costs.
type offer struct {
	cost  float64
	gives []float64 // of each piece
}

// coverNodes bounds the exact search: some tenths of a second. 25 hides that all
// matter stay below it as a rule.
const coverNodes = 200_000

// coverTolerance: pieces are whole, costs are money or area; rounding of their sums
// decides nothing.
const coverTolerance = 1e-9

// selection is a choice of offers.
type selection struct {
	chosen []int // rising
	cost   float64
	bound  float64 // no choice that meets the need costs less
	proven bool    // none is cheaper
}

// cheapestCover chooses offers that together give at least need of every piece, at
// the least cost: a greedy choice, then branch and bound (Land & Doig 1960) with the
// fractional cover of each single piece as its bound (Dantzig 1957). Beyond
// coverNodes the best so far is given with the bound of the whole. ok is false when
// all offers together do not suffice.
func cheapestCover(offers []offer, need []float64) (s selection, ok bool) {
	k := &coverSearch{offers: offers, best: math.Inf(1)}
	k.sortOffers(need)
	s.bound = k.least(0, need)
	if math.IsInf(s.bound, 1) {
		return s, false
	}
	k.greedy(need)
	k.branch(0, slices.Clone(need), 0, nil)
	s.chosen, s.cost, s.proven = k.chosen, k.best, k.nodes < coverNodes
	slices.Sort(s.chosen)
	if s.proven {
		s.bound = s.cost
	}
	return s, true
}

type coverSearch struct {
	offers []offer
	order  []int   // offers, the most for the money first
	rank   [][]int // by piece: places in order, the most of it for the money first
	best   float64
	chosen []int
	nodes  int
}

// worth of an offer is the share of the need it can meet, for its cost.
func (k *coverSearch) sortOffers(need []float64) {
	share := func(i int) float64 {
		least := math.Inf(1)
		for p, n := range need {
			if n > 0 {
				least = min(least, k.offers[i].gives[p]/n)
			}
		}
		return least / max(k.offers[i].cost, coverTolerance)
	}
	k.order = seq(len(k.offers))
	slices.SortStableFunc(k.order, func(a, b int) int { return compare(share(b), share(a)) })
	for p := range need {
		r := seq(len(k.order))
		per := func(at int) float64 {
			o := k.offers[k.order[at]]
			return o.gives[p] / max(o.cost, coverTolerance)
		}
		slices.SortStableFunc(r, func(a, b int) int { return compare(per(b), per(a)) })
		k.rank = append(k.rank, r)
	}
}

func compare(a, b float64) int {
	switch {
	case a < b:
		return -1
	case a > b:
		return 1
	}
	return 0
}

// least is the cost that the offers from a place of the order on need at least for
// what is still needed: for each piece alone, offers may be taken in part. Infinite
// when they do not suffice.
func (k *coverSearch) least(from int, need []float64) float64 {
	most := 0.0
	for p, n := range need {
		sum := 0.0
		for _, at := range k.rank[p] {
			if n <= coverTolerance {
				break
			}
			if o := k.offers[k.order[at]]; at >= from && o.gives[p] > 0 {
				part := min(1, n/o.gives[p])
				sum += part * o.cost
				n -= part * o.gives[p]
			}
		}
		if n > coverTolerance {
			return math.Inf(1)
		}
		most = max(most, sum)
	}
	return most
}

// greedy takes offers in order until the need is met, then gives back what is not
// needed, the dearest first.
func (k *coverSearch) greedy(need []float64) {
	var taken []int
	for _, i := range k.order {
		if k.met(taken, need) {
			break
		}
		taken = append(taken, i)
	}
	back := slices.Clone(taken)
	slices.SortStableFunc(back, func(a, b int) int { return compare(k.offers[b].cost, k.offers[a].cost) })
	for _, i := range back {
		without := slices.DeleteFunc(slices.Clone(taken), func(j int) bool { return j == i })
		if k.met(without, need) {
			taken = without
		}
	}
	k.chosen, k.best = taken, k.costOf(taken)
}

func (k *coverSearch) costOf(taken []int) float64 {
	sum := 0.0
	for _, i := range taken {
		sum += k.offers[i].cost
	}
	return sum
}

func (k *coverSearch) met(taken []int, need []float64) bool {
	for p, n := range need {
		for _, i := range taken {
			n -= k.offers[i].gives[p]
		}
		if n > coverTolerance {
			return false
		}
	}
	return true
}

// branch takes or leaves the offer at a place of the order.
func (k *coverSearch) branch(at int, need []float64, cost float64, taken []int) {
	if k.nodes++; k.nodes >= coverNodes {
		return
	}
	if slices.Max(append(slices.Clone(need), 0)) <= coverTolerance {
		if cost < k.best-coverTolerance {
			k.best, k.chosen = cost, slices.Clone(taken)
		}
		return
	}
	if at == len(k.order) || cost+k.least(at, need) >= k.best-coverTolerance {
		return
	}
	o := k.offers[k.order[at]]
	rest := slices.Clone(need)
	for p := range rest {
		rest[p] -= o.gives[p]
	}
	k.branch(at+1, rest, cost+o.cost, append(taken, k.order[at]))
	k.branch(at+1, need, cost, taken)
}
