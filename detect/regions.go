package detect

import (
	"cmp"
	"container/heap"
	"slices"
)

// region is a basin or what two regions became when the border between them, the
// faintest there was, was taken away: a tree of ever larger parts of the leather, each
// closed by borders steeper than any within (as contour maps are made: Arbeláez et al.
// 2011, IEEE TPAMI 33(5)).
type region struct {
	parts  [2]int32 // regions it was made of; 0: a basin
	into   int32    // the region it became a part of; 0: none
	pixels int32
	border int32   // pairs of pixels along its border
	step   float64 // sum of the steps of tone out of it, one a pair
}

// meanStep is the mean step of tone out of the region along its border: parts where it is
// lighter outside and parts where it is darker cancel, as they do round a piece of a cloud.
func (r region) meanStep() float64 { return r.step / float64(max(r.border, 1)) }

// joined takes borders away, faintest first, until none is left; the regions come
// with the basins first.
func (b basins) joined(slope, tone field, in []bool) []region {
	j := joiner{regions: make([]region, b.count+1, 2*b.count+1), region: make([]int32, b.count+1)}
	var step []float64
	j.sides, step = b.sides(slope, tone, in)
	for _, k := range b.of {
		j.regions[k].pixels++
	}
	for k, sides := range j.sides {
		j.region[k], j.regions[k].step = int32(k), step[k] //nolint:gosec // fewer than pixels
		for to, s := range sides {
			j.regions[k].border += s.pixels
			if int(to) > k {
				j.queue = append(j.queue, border{s, int32(k), to}) //nolint:gosec // fewer than pixels
			}
		}
	}
	heap.Init(&j.queue)
	for len(j.queue) > 0 {
		if b, ok := heap.Pop(&j.queue).(border); ok {
			j.join(b)
		}
	}
	return j.regions
}

// joiner keeps a place for each region that still is; of two that are joined the one with
// more sides keeps its place, and the fewer sides of the other are moved.
type joiner struct {
	regions []region
	region  []int32          // by place
	sides   []map[int32]side // by place: by the other's place
	queue   borders          // some long changed
}

func (j *joiner) join(b border) {
	if j.sides[b.low] == nil || j.sides[b.low][b.high] != b.side {
		return // it has changed since it was queued
	}
	keep, away := b.low, b.high
	if len(j.sides[keep]) < len(j.sides[away]) {
		keep, away = away, keep
	}
	id := int32(len(j.regions)) //nolint:gosec // fewer than pixels
	p, q := &j.regions[j.region[keep]], &j.regions[j.region[away]]
	p.into, q.into = id, id
	j.regions = append(j.regions, region{parts: [2]int32{j.region[keep], j.region[away]}, pixels: p.pixels + q.pixels,
		step: p.step + q.step, border: p.border + q.border - 2*b.pixels})
	j.region[keep] = id
	delete(j.sides[keep], away)
	delete(j.sides[away], keep)
	for to, s := range j.sides[away] { // in any order: the queue has one of its own
		old := j.sides[keep][to]
		s = side{s.pixels + old.pixels, s.slope + old.slope}
		j.sides[keep][to], j.sides[to][keep] = s, s
		delete(j.sides[to], away)
		heap.Push(&j.queue, border{s, min(keep, to), max(keep, to)})
	}
	j.sides[away] = nil
}

// border lies between two places.
type border struct {
	side
	low, high int32
}

// borders is a heap, the faintest first.
type borders []border

func (b borders) Len() int { return len(b) }
func (b borders) Less(i, j int) bool {
	if p, q := b[i].mean(), b[j].mean(); p != q {
		return p < q
	}
	return b[i].low < b[j].low || b[i].low == b[j].low && b[i].high < b[j].high
}
func (b borders) Swap(i, j int) { b[i], b[j] = b[j], b[i] }
func (b *borders) Push(x any) {
	if v, ok := x.(border); ok {
		*b = append(*b, v)
	}
}
func (b *borders) Pop() any {
	last := (*b)[len(*b)-1]
	*b = (*b)[:len(*b)-1]
	return last
}

// apart picks, most evidence first, regions none of which is part of another; evidence of
// 0 is none.
func apart(all []region, evidence func(region) float64) []int32 {
	var order []int32
	value := make([]float64, len(all))
	for k := 1; k < len(all); k++ {
		if value[k] = evidence(all[k]); value[k] > 0 {
			order = append(order, int32(k)) //nolint:gosec // fewer than pixels
		}
	}
	slices.SortStableFunc(order, func(a, b int32) int { return cmp.Compare(value[b], value[a]) })
	within, holds := make([]bool, len(all)), make([]bool, len(all)) // a part of one picked; holding one
	var out []int32
	for _, k := range order {
		if within[k] || holds[k] {
			continue
		}
		out = append(out, k)
		for up := all[k].into; up != 0 && !holds[up]; up = all[up].into {
			holds[up] = true
		}
		for stack := []int32{k}; len(stack) > 0; {
			r := stack[len(stack)-1]
			stack = stack[:len(stack)-1]
			within[r] = true
			if parts := all[r].parts; parts[0] != 0 {
				stack = append(stack, parts[0], parts[1])
			}
		}
	}
	return out
}

// basinsIn lists the basins that a region is made of, in order.
func basinsIn(all []region, k int32) []int32 {
	var out []int32
	for stack := []int32{k}; len(stack) > 0; {
		r := stack[len(stack)-1]
		stack = stack[:len(stack)-1]
		if parts := all[r].parts; parts[0] != 0 {
			stack = append(stack, parts[0], parts[1])
		} else {
			out = append(out, r)
		}
	}
	slices.Sort(out)
	return out
}
