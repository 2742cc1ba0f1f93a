package detect

import (
	"image"

	"hidechart/pix"
)

// lowPart is a connected part of the raster where the share of leather is low: its
// pixels in runs along the rows, those that touch by a side or a corner together.
type lowPart struct {
	box    image.Rectangle
	pixels int
	runs   []lowRun
}

// lowRun is the pixels from one to before another of a row.
type lowRun struct {
	y, from, to int
	out         bool // some of it is off the hide
}

// partsUnder are the parts of the hide whose share of leather is under the level and that do not reach out
// of it, in the order of their first pixels.
func (f *Found) partsUnder(level float32, s *share, g pix.Grid) []*lowPart {
	byRow := make([][]lowRun, s.h)
	look := newLookup(g, f.grid)
	rows(s.h, func(y int) {
		row := s.v[y*s.w : (y+1)*s.w]
		var runs []lowRun
		for x, v := range row {
			if v >= level {
				continue
			}
			at := look.at(x, y)
			if f.near[at] == outsideBand {
				continue
			}
			if n := len(runs); n == 0 || runs[n-1].to != x {
				runs = append(runs, lowRun{y: y, from: x})
			}
			r := &runs[len(runs)-1]
			r.to, r.out = x+1, r.out || !f.leather[at]
		}
		byRow[y] = runs
	})
	return joinedRuns(byRow)
}

// joinedRuns are the connected parts that do not reach out, in the order of their first pixels.
func joinedRuns(byRow [][]lowRun) []*lowPart {
	var all []lowRun
	var first []int // by run: one of the same part before it, or itself (Tarjan 1975, "Efficiency of a good but not linear set union algorithm", J. ACM 22)
	root := func(i int) int {
		for first[i] != i {
			first[i] = first[first[i]]
			i = first[i]
		}
		return i
	}
	above, end := 0, 0 // the row before lies there in all
	for _, runs := range byRow {
		from := len(all)
		for _, r := range runs {
			i := len(all)
			all, first = append(all, r), append(first, i)
			for above < end && all[above].to < r.from {
				above++
			}
			for k := above; k < end && all[k].from <= r.to; k++ {
				a, b := root(k), root(i)
				first[max(a, b)] = min(a, b)
			}
		}
		above, end = from, len(all)
	}
	var out []*lowPart
	parts, off := make([]*lowPart, len(all)), make([]bool, len(all))
	for i, r := range all {
		off[root(i)] = off[root(i)] || r.out
	}
	for i, r := range all {
		k := root(i)
		if off[k] {
			continue
		}
		if parts[k] == nil {
			parts[k] = &lowPart{}
			out = append(out, parts[k])
		}
		p := parts[k]
		p.box, p.pixels, p.runs = p.box.Union(image.Rect(r.from, r.y, r.to, r.y+1)), p.pixels+r.to-r.from, append(p.runs, r)
	}
	return out
}
