package export

import (
	"encoding/json"
	"math"
	"slices"

	"hidechart/hide"
	"hidechart/pix"
	"hidechart/plane"
)

// cocoRLE is a mask as COCO writes it: lengths of runs, background first,
// down the columns from left to right. Read also in its compressed form.
type cocoRLE struct {
	Counts []int  `json:"counts"`
	Size   [2]int `json:"size"` // height, width
}

// UnmarshalJSON takes counts as a list or as the compressed text of the data
// set's own tools (maskApi.c, rleFrString): five bits a character from "0" on, 0x20 says
// that more follow, from the fourth number on differences to the one two before.
func (r *cocoRLE) UnmarshalJSON(data []byte) error {
	var v struct {
		Counts json.RawMessage `json:"counts"`
		Size   [2]int          `json:"size"`
	}
	if err := json.Unmarshal(data, &v); err != nil {
		return err
	}
	r.Size = v.Size
	var text string
	if json.Unmarshal(v.Counts, &text) != nil {
		return json.Unmarshal(v.Counts, &r.Counts)
	}
	var err error
	r.Counts, err = countsFromText(text)
	return err
}

func countsFromText(text string) ([]int, error) {
	var out []int
	for i := 0; i < len(text); {
		v, shift, more := int64(0), 0, true
		for more {
			if i >= len(text) || text[i] < '0' || text[i] > '0'+63 || shift > 35 {
				return nil, hide.Faultf(hide.Invalid, "counts: text that is no run-length code")
			}
			c := int64(text[i] - '0')
			i++
			v |= (c & 0x1f) << shift
			shift += 5
			more = c&0x20 != 0
			if !more && c&0x10 != 0 {
				v |= -1 << shift
			}
		}
		if len(out) > 2 {
			v += int64(out[len(out)-2])
		}
		if v < 0 || v > math.MaxInt32 {
			return nil, hide.Faultf(hide.Invalid, "counts: a run of %d", v)
		}
		out = append(out, int(v))
	}
	return out, nil
}

// mask is a set of pixels as runs down each column.
type mask struct {
	width, height int
	runs          []run // by column, then row; none empty, none touching the next
}

type run struct{ column, from, to int } // rows from to before to

// maskOf takes every pixel whose centre lies in the shape (even-odd rule).
func maskOf(s hide.Shape, g pix.Grid) mask {
	m := mask{width: g.Width, height: g.Height}
	columns := map[int][]float64{}
	for _, p := range s {
		for _, r := range append([]hide.Ring{p.Outer}, p.Holes...) {
			for i, a := range r {
				crossColumns(columns, g, a, r[(i+1)%len(r)])
			}
		}
	}
	var order []int
	for c := range columns {
		order = append(order, c)
	}
	slices.Sort(order)
	for _, c := range order {
		ys := columns[c]
		slices.Sort(ys)
		for i := 0; i+1 < len(ys); i += 2 {
			// rows whose centre, r + 0.5, lies between
			from, to := max(0, int(math.Ceil(ys[i]-0.5))), min(g.Height, int(math.Ceil(ys[i+1]-0.5)))
			m.add(run{c, from, to})
		}
	}
	return m
}

// crossColumns notes where an edge crosses the middle line of each column.
func crossColumns(columns map[int][]float64, g pix.Grid, a, b hide.Point) {
	ax, ay := edgePixel(g, a)
	bx, by := edgePixel(g, b)
	if ax > bx {
		ax, ay, bx, by = bx, by, ax, ay
	}
	for c := max(0, int(math.Ceil(ax-0.5))); c < g.Width && float64(c)+0.5 < bx; c++ {
		x := float64(c) + 0.5
		columns[c] = append(columns[c], ay+(by-ay)*(x-ax)/(bx-ax))
	}
}

// add appends a run; one that touches the last lengthens it.
func (m *mask) add(r run) {
	if r.to <= r.from {
		return
	}
	if n := len(m.runs); n > 0 && m.runs[n-1].column == r.column && m.runs[n-1].to >= r.from {
		m.runs[n-1].to = max(m.runs[n-1].to, r.to)
		return
	}
	m.runs = append(m.runs, r)
}

func (m mask) area() int {
	n := 0
	for _, r := range m.runs {
		n += r.to - r.from
	}
	return n
}

// counts are the lengths of runs, background first.
func (m mask) counts() []int {
	var out []int
	at := 0
	for _, r := range m.runs {
		from, to := r.column*m.height+r.from, r.column*m.height+r.to
		if from == at && len(out) > 0 { // on from the foot of one column at the head of the next
			out[len(out)-1] += to - from
		} else {
			out = append(out, from-at, to-from)
		}
		at = to
	}
	if rest := m.width*m.height - at; rest > 0 || len(out) == 0 {
		out = append(out, rest)
	}
	return out
}

// maskFrom reads run lengths. Error: Invalid when they do not fill the picture.
func maskFrom(counts []int, width, height int) (mask, error) {
	m := mask{width: width, height: height}
	at, end := 0, width*height
	for i, n := range counts {
		if n < 0 || n > end-at {
			return m, hide.Faultf(hide.Invalid, "counts: run %d leaves the picture", i+1)
		}
		for to := at + n; i%2 == 1 && at < to; {
			c := at / height
			foot := min(to, (c+1)*height)
			m.add(run{c, at - c*height, foot - c*height})
			at = foot
		}
		if i%2 == 0 {
			at += n
		}
	}
	if at != end {
		return m, hide.Faultf(hide.Invalid, "counts: %d pixels of %d", at, end)
	}
	if len(m.runs) > mostCorners {
		return m, hide.Faultf(hide.Invalid, "counts: more than %d runs", mostCorners)
	}
	return m, nil
}

// shape is the outline of the pixels, exactly: the union of a rectangle for each run.
func (m mask) shape(g pix.Grid) (hide.Shape, error) {
	if len(m.runs) == 0 {
		return nil, hide.Faultf(hide.Invalid, "there is no shape")
	}
	parts := make([]hide.Shape, len(m.runs))
	for i, r := range m.runs {
		x0, x1 := float64(r.column), float64(r.column+1)
		parts[i] = hide.Shape{{Outer: hide.Ring{fromEdgePixel(g, x0, float64(r.to)), fromEdgePixel(g, x1, float64(r.to)),
			fromEdgePixel(g, x1, float64(r.from)), fromEdgePixel(g, x0, float64(r.from))}}}
	}
	return plane.Union(parts...)
}
