package detect

import (
	"cmp"
	"math"
	"slices"

	"hidechart/hide"
	"hidechart/pix"
)

// trace is a line followed along the ridge of its response.
type trace struct {
	line  []hide.Point
	score []float64 // response at each vertex
	best  float64
	mean  float64
	sigma hide.MM // scale it was found at
	even  hide.MM // how much of its length carries its contrast
}

func (t trace) length() hide.MM {
	var l hide.MM
	for i := 1; i < len(t.line); i++ {
		l += t.line[i].Distance(t.line[i-1])
	}
	return l
}

// evidence grows with the response and, as chance alignments die out along a
// line, with the root of its length.
func (t trace) evidence() float64 { return t.mean * math.Sqrt(float64(t.length())) }

// plainLine is a mean response that grain does not reach however many creases it has: it is the leather's own variation that
// responses are in units of.
const plainLine = 15

// mostPlain is how many plain lines are kept beyond the limit at most: a printed or woven surface is made of them.
const mostPlain = 300

// strongestTraces keeps the n with the most evidence, and the plain lines beyond.
func strongestTraces(t []trace, n int) []trace {
	slices.SortStableFunc(t, func(a, b trace) int { return cmp.Compare(b.evidence(), a.evidence()) })
	kept := slices.Clone(t[:min(n, len(t))])
	for _, more := range t[len(kept):] {
		if more.mean >= plainLine && len(kept) < n+mostPlain {
			kept = append(kept, more)
		}
	}
	return kept
}

// traces follows ridges from the strongest down (Steger 1998, section 3.4:
// linking picks the neighbour ahead that turns least and responds most), so that
// a line runs straight on through a crossing. The ends are cut at half the line's
// own middle response: averaging along the line smears an end to just that.
func (r lineResponse) traces(g pix.Grid, sigma hide.PX, p Params) []trace {
	w := tracerState{r: r, w: g.Width, h: g.Height, taken: make([]bool, len(r.angle)), p: p}
	var out []trace
	for _, seed := range w.seeds() {
		if w.taken[seed] {
			continue
		}
		path := w.follow(seed)
		w.take(path)
		if t, ok := w.finish(path, g, p); ok {
			t.sigma = hide.MM(sigma) * g.MMPerPX
			out = append(out, t.atCorners(p.LineLength)...)
		}
	}
	return out
}

type tracerState struct {
	r     lineResponse
	w, h  int
	taken []bool
	p     Params
}

// seeds are the local maxima across the line above LineSeed, strongest first.
func (w *tracerState) seeds() []int {
	var at []int
	for y := 2; y < w.h-2; y++ {
		for x := 2; x < w.w-2; x++ {
			if i := y*w.w + x; float64(w.r.z.v[i]) >= w.p.LineSeed && w.ridge(i) {
				at = append(at, i)
			}
		}
	}
	slices.SortStableFunc(at, func(a, b int) int {
		switch d := w.r.z.v[b] - w.r.z.v[a]; {
		case d > 0:
			return 1
		case d < 0:
			return -1
		}
		return a - b
	})
	return at
}

func (w *tracerState) direction(i int) (dx, dy float64) {
	a := float64(w.r.angle[i]) * w.r.step
	return math.Cos(a), math.Sin(a)
}

func (w *tracerState) ridge(i int) bool {
	dx, dy := w.direction(i)
	off := int(math.Round(dx))*w.w - int(math.Round(dy))
	v := w.r.z.v[i]
	return v >= w.r.z.v[i+off] && v >= w.r.z.v[i-off]
}

// follow walks both ways from the seed and returns the pixels in order.
func (w *tracerState) follow(seed int) []int {
	dx, dy := w.direction(seed)
	back := w.walk(seed, -dx, -dy)
	slices.Reverse(back)
	return append(append(back, seed), w.walk(seed, dx, dy)...)
}

// walk steps two pixels at a time to the best of the places ahead within 35°.
func (w *tracerState) walk(i int, dx, dy float64) []int {
	var path []int
	x, y := float64(i%w.w), float64(i/w.w)
	for range 2000 {
		best, at, bx, by := w.p.LineFollow, -1, 0.0, 0.0
		for _, turn := range [5]float64{0, -0.3, 0.3, -0.6, 0.6} {
			c, s := math.Cos(turn), math.Sin(turn)
			ex, ey := dx*c-dy*s, dx*s+dy*c
			j := w.index(x+2*ex, y+2*ey)
			if j < 0 || w.taken[j] {
				continue
			}
			fx, fy := w.direction(j)
			agree := math.Abs(fx*ex + fy*ey)
			if v := float64(w.r.z.v[j]) * agree; agree > 0.75 && v > best {
				best, at, bx, by = v, j, ex, ey
			}
		}
		if at < 0 {
			return path
		}
		// turn slowly: half old direction, half new
		dx, dy = dx+bx, dy+by
		n := math.Hypot(dx, dy)
		dx, dy = dx/n, dy/n
		x, y = float64(at%w.w), float64(at/w.w)
		path = append(path, at)
		w.taken[at] = true
	}
	return path
}

func (w *tracerState) index(x, y float64) int {
	xi, yi := int(math.Round(x)), int(math.Round(y))
	if xi < 2 || yi < 2 || xi >= w.w-2 || yi >= w.h-2 {
		return -1
	}
	return yi*w.w + xi
}

// take marks the pixels within 3 of the path: the response's own width.
func (w *tracerState) take(path []int) {
	for _, i := range path {
		for y := max(0, i/w.w-3); y <= min(w.h-1, i/w.w+3); y++ {
			for x := max(0, i%w.w-3); x <= min(w.w-1, i%w.w+3); x++ {
				w.taken[y*w.w+x] = true
			}
		}
	}
}

func (w *tracerState) finish(path []int, g pix.Grid, p Params) (trace, bool) {
	score := make([]float64, len(path))
	for k, i := range path {
		score[k] = float64(w.r.z.v[i])
	}
	limit := math.Max(median(slices.Clone(score))/2, p.LineFollow)
	a, b := 0, len(path)
	for a < b && score[a] < limit {
		a++
	}
	for b > a && score[b-1] < limit {
		b--
	}
	t := trace{score: score[a:b]}
	var sx, sy []float64
	for _, i := range path[a:b] {
		sx, sy = append(sx, float64(i%w.w)), append(sy, float64(i/w.w))
	}
	sx, sy = running(sx), running(sy)
	for k := range sx {
		t.line = append(t.line, g.ToTable(pix.Point{X: hide.PX(sx[k]), Y: hide.PX(sy[k])}))
		t.best = math.Max(t.best, t.score[k])
		t.mean += t.score[k] / float64(len(t.score))
	}
	return t, len(t.line) >= 3 && t.length() >= p.LineLength
}

// running averages over five neighbours, fewer at the ends, which stay.
func running(v []float64) []float64 {
	out := make([]float64, len(v))
	for i := range v {
		n := min(2, i, len(v)-1-i)
		for _, x := range v[i-n : i+n+1] {
			out[i] += x / float64(2*n+1)
		}
	}
	return out
}
