package detect

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"hidechart/hide"
	"hidechart/pix"
	"hidechart/plane"
)

// The strokes of a brand are found as lines of one width, and where two lie side by side as one line over both. A brand that
// is charted is therefore parted from the leather round it pixel by pixel: by the tone under each light, by colour, and, under
// raking light, by height, together in the direction in which the two differ most against how much each varies (Fisher
// 1936, "The use of multiple measurements in taxonomic problems", Annals of Eugenics 7). Which pixels are burnt is not known
// before that direction is: they are found in turn (Ding & Li 2007, "Adaptive dimension reduction using discriminant
// analysis and K-means clustering", ICML).

const (
	figureBeyond hide.MM = 3  // strokes may reach so far beyond what was found
	figureClear  hide.MM = 6  // off it lies leather
	figureBeside hide.MM = 14 // so far leather is looked at

	figureLargest hide.MM = 800 // no iron is as large; what is called a brand all over a hide would take long

	figureBlur    hide.PX  = 0.7              // of what is compared: finer is grain, more rounds the strokes
	figureLongest          = 2 * math.Pi / 80 // wave number, 1/mm, under which heights are lamps' and waves'
	figureSpeck   hide.MM2 = 12               // smaller parts and gaps are grain

	figureTurns           = 8   // after which the pixels hardly change
	figureClearly         = 2.5 // the least distance of strokes and leather, in their deviation
	figureLeast   float64 = 0.25
	figureMost    float64 = 1.3 // of the area found: else what parts is something else
)

// figure is the outline of a brand that was found as a shape; that shape where strokes and leather do not part clearly.
func (s *surface) figure(found hide.Shape) (hide.Shape, error) {
	if b := boxOf(found); max(b.right-b.left, b.top-b.bottom) > figureLargest {
		return found, nil
	}
	w, err := s.figureWindow(found)
	if err != nil {
		return nil, err
	}
	score, err := w.parted()
	if err != nil || score.v == nil {
		return found, err
	}
	curves, err := pix.IsolinesIn(score.v, score.w)
	if err != nil {
		return nil, err
	}
	out, err := shapeOf(curves, w.grid)
	if err != nil || out == nil {
		return found, err
	}
	if area := out.Area(); area < hide.MM2(figureLeast)*found.Area() || area > hide.MM2(figureMost)*found.Area() {
		return found, nil
	}
	return out, nil
}

// figureWindow is what a brand is parted by.
type figureWindow struct {
	grid     pix.Grid
	channels []field
	within   []bool // what may be a stroke
	beside   []bool // leather
}

func (s *surface) figureWindow(found hide.Shape) (figureWindow, error) {
	var rings hide.Ring
	for _, p := range found {
		rings = append(rings, p.Outer...)
	}
	g := s.grid.Around(rings, figureBeside)
	w := figureWindow{grid: g}
	left, top := cornerOf(g, s.grid)
	crop := func(f field) field {
		out := newField(g.Width, g.Height)
		for y := max(0, -top); y < min(g.Height, f.h-top); y++ {
			for x := max(0, -left); x < min(g.Width, f.w-left); x++ {
				out.v[y*g.Width+x] = f.v[(top+y)*f.w+left+x]
			}
		}
		return out
	}
	add := func(f field) error {
		soft, err := f.blurred(figureBlur)
		w.channels = append(w.channels, soft)
		return err
	}
	for _, l := range s.lit {
		if l.light == hide.Back {
			continue
		}
		for _, c := range append([]field{l.tone}, l.hue...) {
			if err := add(crop(c)); err != nil {
				return w, err
			}
		}
	}
	if slopes := s.slopesIn(crop); slopes != nil {
		height := newField(g.Width, g.Height)
		for i, v := range heightOf(slopes, g, figureLongest, int(figureBeside)) {
			height.v[i] = float32(v)
		}
		if err := add(height); err != nil {
			return w, err
		}
	}
	return w, w.mark(found, s, left, top)
}

// slopesIn are the slopes of a window towards the lamps, up to one factor: along each direction that the
// lamps tell apart.
func (s *surface) slopesIn(crop func(field) field) []lieSlope {
	lights := s.facings()
	if lights == nil {
		return nil
	}
	m := mat.NewSymDense(2, nil)
	for _, l := range lights {
		m.SetSym(0, 0, m.At(0, 0)+l.x*l.x)
		m.SetSym(0, 1, m.At(0, 1)+l.x*l.y)
		m.SetSym(1, 1, m.At(1, 1)+l.y*l.y)
	}
	var e mat.EigenSym
	if !e.Factorize(m, true) {
		return nil
	}
	var axes mat.Dense
	e.VectorsTo(&axes)
	var out []lieSlope
	for k, spread := range e.Values(nil) {
		if spread < leastAcross {
			continue
		}
		slope := lieSlope{dx: axes.At(0, k), dy: axes.At(1, k)}
		for _, l := range lights {
			tone := crop(l.tone)
			if slope.v == nil {
				slope.v = make([]float64, len(tone.v))
			}
			along := (l.x*slope.dx + l.y*slope.dy) / spread
			for i, v := range tone.v {
				slope.v[i] -= along * float64(v)
			}
		}
		out = append(out, slope)
	}
	return out
}

// mark says which pixels may be a stroke's and which are leather beside.
func (w *figureWindow) mark(found hide.Shape, s *surface, left, top int) error {
	near, err := plane.Buffer(found, figureBeyond)
	if err != nil {
		return err
	}
	far, err := plane.Buffer(found, figureClear)
	if err != nil {
		return err
	}
	w.within = w.inShape(near)
	off := w.inShape(far)
	w.beside = make([]bool, len(off))
	for i := range off {
		x, y := left+i%w.grid.Width, top+i/w.grid.Width
		leather := x >= 0 && y >= 0 && x < s.grid.Width && y < s.grid.Height && s.in[y*s.grid.Width+x]
		w.beside[i] = leather && !off[i]
		w.within[i] = w.within[i] && leather
	}
	return nil
}

// inShape is true in the shape's outer rings and not in its holes.
func (w *figureWindow) inShape(s hide.Shape) []bool {
	out := make([]bool, w.grid.Width*w.grid.Height)
	set := func(r hide.Ring, to bool) {
		eachRun(r, w.grid, func(y, from, end int) {
			for x := from; x < end; x++ {
				out[y*w.grid.Width+x] = to
			}
		})
	}
	for _, p := range s {
		set(p.Outer, true)
		for _, h := range p.Holes {
			set(h, false)
		}
	}
	return out
}

// parted is positive where a pixel is liker to the strokes than to the leather beside; empty if the two do not part.
func (w *figureWindow) parted() (field, error) {
	burnt := w.within
	var score field
	for turn := range figureTurns {
		a, b := w.classOf(burnt), w.classOf(w.beside)
		if a.n < float64(figureSpeck) || b.n < float64(figureSpeck) {
			return field{}, nil
		}
		direction, ok := a.against(b)
		if !ok {
			return field{}, nil
		}
		var middle, from float64
		for k, d := range direction {
			middle += d * (a.mean[k] + b.mean[k]) / 2
			from += d * (a.mean[k] - b.mean[k])
		}
		// the direction is scaled so that from is Mahalanobis' distance squared
		if from <= 0 || turn == figureTurns-1 && math.Sqrt(from) < figureClearly {
			return field{}, nil
		}
		raw := newField(w.grid.Width, w.grid.Height)
		for i := range raw.v {
			var v float64
			for k, d := range direction {
				v += d * float64(w.channels[k].v[i])
			}
			raw.v[i] = float32((v - middle) / from)
		}
		var err error
		if score, err = raw.blurred(figureBlur); err != nil {
			return field{}, err
		}
		burnt = make([]bool, len(score.v))
		for i, v := range score.v {
			burnt[i] = w.within[i] && v > 0
		}
	}
	for i := range score.v {
		if !w.within[i] {
			score.v[i] = -1
		}
	}
	return score, nil
}

// class is how a set of pixels looks in all channels.
type class struct {
	n    float64
	mean []float64
	vary *mat.SymDense // sum of the squares about the mean
}

func (w *figureWindow) classOf(in []bool) class {
	c := class{mean: make([]float64, len(w.channels)), vary: mat.NewSymDense(len(w.channels), nil)}
	for i, ok := range in {
		if !ok {
			continue
		}
		c.n++
		for k := range c.mean {
			c.mean[k] += float64(w.channels[k].v[i])
		}
	}
	for k := range c.mean {
		c.mean[k] /= max(c.n, 1)
	}
	x := mat.NewVecDense(len(c.mean), nil)
	for i, ok := range in {
		if !ok {
			continue
		}
		for k := range c.mean {
			x.SetVec(k, float64(w.channels[k].v[i])-c.mean[k])
		}
		c.vary.SymRankOne(c.vary, 1, x)
	}
	return c
}

// against is Fisher's direction from class b to a; false where the squares have none.
func (c class) against(b class) ([]float64, bool) {
	n := len(c.mean)
	pooled := mat.NewSymDense(n, nil)
	pooled.AddSym(c.vary, b.vary)
	pooled.ScaleSym(1/(c.n+b.n), pooled)
	for k := range n {
		pooled.SetSym(k, k, pooled.At(k, k)+1e-12)
	}
	apart := mat.NewVecDense(n, nil)
	for k := range n {
		apart.SetVec(k, c.mean[k]-b.mean[k])
	}
	var solver mat.Cholesky
	if !solver.Factorize(pooled) {
		return nil, false
	}
	out := mat.NewVecDense(n, nil)
	if err := solver.SolveVecTo(out, apart); err != nil {
		return nil, false
	}
	return out.RawVector().Data, true
}

func reversed(r hide.Ring) hide.Ring {
	out := slices.Clone(r)
	slices.Reverse(out)
	return out
}

// shapeOf is what closed curves enclose, without specks and gaps.
func shapeOf(curves [][]pix.Point, g pix.Grid) (hide.Shape, error) {
	var parts, gaps []hide.Shape
	for _, c := range curves {
		switch r := tableRing(c, g); {
		case r.SignedArea() > figureSpeck:
			parts = append(parts, hide.Shape{{Outer: r}})
		case r.SignedArea() < -figureSpeck:
			gaps = append(gaps, hide.Shape{{Outer: reversed(r)}})
		}
	}
	if parts == nil {
		return nil, nil
	}
	out, err := plane.Union(parts...)
	if err == nil && gaps != nil {
		var open hide.Shape
		if open, err = plane.Union(gaps...); err == nil {
			out, err = plane.Difference(out, open)
		}
	}
	if err != nil {
		return nil, err
	}
	return plane.Simplify(out, shapeTolerance)
}
