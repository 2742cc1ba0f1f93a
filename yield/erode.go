package yield

import (
	"math/bits"
	"runtime"
	"slices"
	"sync"
)

// run is a row of a piece's cells: columns from..to of row.
type run struct{ row, from, to int }

// mask is a piece on the raster, its lower left cell at 0, 0.
type mask struct {
	w, h int
	runs []run
	dx   int // cells from the piece's reference point to the mask's corner
	dy   int
}

// newMask reads the runs of a bitmap; dx, dy is where its cell 0, 0 lies from
// the reference point.
func newMask(b *bitmap, dx, dy int) mask {
	m := mask{dx: dx, dy: dy, w: b.w, h: b.h}
	for r := range b.h {
		for c := 0; c < b.w; c++ {
			if !b.has(c, r) {
				continue
			}
			from := c
			for c < b.w && b.has(c, r) {
				c++
			}
			m.runs = append(m.runs, run{r, from, c - 1})
		}
	}
	return m
}

// ladder holds a bitmap and, for each power of two, where runs of that many
// free cells begin: a run of any length is two overlapping rungs (van Herk's idea
// of a fixed cost per cell, in powers of two and 64 cells a word).
type ladder struct{ rungs []*bitmap }

func newLadder(free *bitmap, longest int) *ladder {
	l := &ladder{rungs: []*bitmap{free}}
	for 1<<len(l.rungs) <= longest {
		l.rungs = append(l.rungs, newBitmap(free.w, free.h))
	}
	inParallel(free.h, func(r0, r1 int) { l.refresh(r0, r1) })
	return l
}

// refresh works the rungs out again for rows r0..r1−1 of the bitmap.
func (l *ladder) refresh(r0, r1 int) {
	for k := 1; k < len(l.rungs); k++ {
		for r := r0; r < r1; r++ {
			low, up := l.rungs[k-1].row(r), l.rungs[k].row(r)
			copy(up, low)
			andShifted(up, low, 1<<(k-1), 0, len(up))
		}
	}
}

// andShifted makes out[c] &= in[c+shift] for the words from..to−1 of out.
func andShifted(out, in []uint64, shift, from, to int) {
	words, rest := shift/64, uint(shift%64)
	last := min(to, len(in)-words) // words of out that any word of in reaches
	if last < to {
		clear(out[max(from, last):to])
	}
	if from >= last {
		return
	}
	o, v := out[from:last], in[from+words:last+words]
	if rest == 0 {
		for i, w := range v {
			o[i] &= w
		}
		return
	}
	next := uint64(0)
	if last+words < len(in) {
		next = in[last+words]
	}
	for i := len(v) - 1; i >= 0; i-- {
		w := v[i]
		o[i] &= w>>rest | next<<(64-rest)
		next = w
	}
}

// fitRow works out where in row r the mask's corner can be so that all its
// cells are free. It gives the span of words of out that hold any.
func (l *ladder) fitRow(m mask, r int, order []int, out []uint64) (from, to int) {
	from, to = 0, len(out)
	for i := range out {
		out[i] = ^uint64(0)
	}
	for _, i := range order {
		u := m.runs[i]
		k := bits.Len(uint(u.to-u.from+1)) - 1
		row := l.rungs[k].row(r + u.row)
		andShifted(out, row, u.from, from, to)
		if second := u.to + 1 - 1<<k; second != u.from {
			andShifted(out, row, second, from, to)
		}
		for from < to && out[from] == 0 {
			from++
		}
		for from < to && out[to-1] == 0 {
			to--
		}
		if from == to {
			break
		}
	}
	return from, to
}

// order lists the runs so that the likeliest to fail come first: the rows far
// apart, coarse to fine, so that a blocked row is left early.
func (m mask) order() []int {
	seen := make([]bool, len(m.runs))
	var out []int
	for step := len(m.runs); step > 0; step /= 2 {
		for i := 0; i < len(m.runs); i += step {
			if !seen[i] {
				seen[i] = true
				out = append(out, i)
			}
		}
	}
	return out
}

// fit is the set of places for the mask's corner at which it covers free cells
// only.
func (l *ladder) fit(m mask) *bitmap {
	free := l.rungs[0]
	out := newBitmap(free.w, free.h)
	order := m.order()
	rows := free.h - m.h + 1
	if rows <= 0 || m.w > free.w || m.w == 0 {
		return out
	}
	inParallel(rows, func(r0, r1 int) {
		buf := make([]uint64, free.stride)
		for r := r0; r < r1; r++ {
			if from, to := l.fitRow(m, r, order, buf); from < to {
				copy(out.row(r)[from:to], buf[from:to])
			}
		}
	})
	return out
}

// longest is the longest run.
func (m mask) longest() int {
	n := 1
	for _, u := range m.runs {
		n = max(n, u.to-u.from+1)
	}
	return n
}

// spread is the union of the masks placed at the cells of at.
func spread(at *bitmap, m mask) *bitmap {
	// reach[k] has bit c where at has one of c−2ᵏ+1..c
	reach := []*bitmap{at}
	for 1<<len(reach) <= m.longest() {
		reach = append(reach, newBitmap(at.w, at.h))
	}
	empty := make([]bool, at.h)
	inParallel(at.h, func(r0, r1 int) {
		for r := r0; r < r1; r++ {
			empty[r] = !slices.ContainsFunc(at.row(r), func(w uint64) bool { return w != 0 })
			for k := 1; k < len(reach) && !empty[r]; k++ {
				copy(reach[k].row(r), reach[k-1].row(r))
				orShifted(reach[k].row(r), reach[k-1].row(r), 1<<(k-1))
			}
		}
	})
	out := newBitmap(at.w, at.h)
	inParallel(at.h, func(r0, r1 int) {
		for r := r0; r < r1; r++ {
			row := out.row(r)
			for _, u := range m.runs {
				from := r - u.row
				if from < 0 || from >= at.h || empty[from] {
					continue
				}
				k := bits.Len(uint(u.to-u.from+1)) - 1
				orShifted(row, reach[k].row(from), u.from)
				if second := u.to - (1<<k - 1); second != u.from {
					orShifted(row, reach[k].row(from), second)
				}
			}
			if rest := uint(out.w % 64); rest > 0 {
				row[len(row)-1] &= 1<<rest - 1
			}
		}
	})
	return out
}

// orShifted makes out[c] |= in[c−shift]; shift may be negative.
func orShifted(out, in []uint64, shift int) {
	if shift < 0 {
		words, rest := -shift/64, uint(-shift%64)
		for i := range len(out) - words {
			v := in[i+words] >> rest
			if rest > 0 && i+words+1 < len(in) {
				v |= in[i+words+1] << (64 - rest)
			}
			out[i] |= v
		}
		return
	}
	words, rest := shift/64, uint(shift%64)
	for i := len(out) - 1; i >= words; i-- {
		v := in[i-words] << rest
		if rest > 0 && i-words > 0 {
			v |= in[i-words-1] >> (64 - rest)
		}
		out[i] |= v
	}
}

// inParallel calls do on consecutive parts of 0..n−1, one a core. The parts are
// independent, so the result does not depend on their number.
func inParallel(n int, do func(from, to int)) {
	workers := min(runtime.GOMAXPROCS(0), max(1, n/64))
	var wait sync.WaitGroup
	for w := range workers {
		wait.Go(func() { do(n*w/workers, n*(w+1)/workers) })
	}
	wait.Wait()
}
