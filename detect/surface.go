package detect

import (
	"math"
	"runtime"
	"sync"

	"golang.org/x/sync/errgroup"

	"hidechart/hide"
	"hidechart/pix"
)

// surface is the leather on the work grid: per light the logarithm of linear
// light with what varies slowly taken off, so that 0 is the leather beside and
// 0.01 is one percent lighter. Outside the leather it is 0.
type surface struct {
	grid pix.Grid
	in   []bool // leather, clear of the edge and of holes
	lit  []litSurface

	noise   noiseGrid  // use noiseGrid()
	risenBy risenField // set when loose areas are sought
}

type litSurface struct {
	light hide.Light
	tone  field      // luminance
	wide  field      // the same against a window wider than a stain; top and back light only
	hue   []field    // two colour differences, empty for a grey photograph
	fall  [2]float64 // of its tone over the hide, per metre to the east and north
	from  lampSide   // of a raking light
}

// newSurface averages the photographs to the work pixel and flattens them.
func newSurface(photos Photos, outline hide.Polygon, p Params) (*surface, error) {
	g := photos.Grid.Scaled(max(p.WorkPixel, photos.Grid.MMPerPX)) // finer than the photographs tells nothing
	s := &surface{grid: g}
	in := filled(outline.Outer, g)
	for _, h := range outline.Holes {
		for i, hole := range filled(h, g) {
			in[i] = in[i] && !hole
		}
	}
	var err error
	if s.in, err = shrink(in, g, p.EdgeMargin); err != nil {
		return nil, err
	}
	var lights []hide.Light
	for _, l := range hide.Lights() {
		if _, ok := photos.Lights[l]; ok && l != hide.Empty {
			lights = append(lights, l)
		}
	}
	s.lit = make([]litSurface, len(lights))
	var group errgroup.Group
	group.SetLimit(runtime.GOMAXPROCS(0))
	for k, l := range lights {
		group.Go(func() (err error) {
			s.lit[k], err = s.flatten(l, photos.Lights[l], p)
			return err
		})
	}
	if err := group.Wait(); err != nil {
		return s, err
	}
	s.turnLamps()
	return s, nil
}

func (s *surface) flatten(l hide.Light, im *pix.Image, p Params) (litSurface, error) {
	small, err := pix.Resize(im, s.grid.Width, s.grid.Height)
	if err != nil {
		return litSurface{}, err
	}
	defer small.Close()
	log := logChannels(small)
	tone := newField(s.grid.Width, s.grid.Height)
	for _, l := range log {
		for i, v := range l.v {
			tone.v[i] += v / float32(len(log))
		}
	}
	out := litSurface{light: l, fall: s.fallOf(tone)}
	if out.tone, err = s.flat(tone, p.Background); err != nil {
		return out, err
	}
	if !l.Rake() {
		if out.wide, err = s.flat(tone, p.PatchBackground); err != nil {
			return out, err
		}
	}
	if len(log) < 3 {
		return out, nil
	}
	// opponent axes blue−yellow and red−green of the logarithms: free of light's level
	for i := range tone.v {
		b, g, r := log[0].v[i], log[1].v[i], log[2].v[i]
		log[0].v[i], log[1].v[i] = b-(g+r)/2, r-g
	}
	for _, hue := range log[:2] {
		flat, err := s.flat(hue, p.PatchBackground)
		if err != nil {
			return out, err
		}
		out.hue = append(out.hue, flat)
	}
	return out, nil
}

// flat takes off the mean of the leather around.
func (s *surface) flat(f field, window hide.MM) (field, error) {
	mean, k, err := f.blockMeans(s.in, hide.PX(window/s.grid.MMPerPX))
	if err != nil {
		return f, err
	}
	out, means := newField(f.w, f.h), newStretcher(mean, f.w, k)
	for y := range f.h {
		to, from, in, mean := out.v[y*f.w:(y+1)*f.w], f.v[y*f.w:(y+1)*f.w], s.in[y*f.w:(y+1)*f.w], means.row(y)
		for x, ok := range in {
			if ok {
				to[x] = from[x] - mean[x]
			}
		}
	}
	return out, nil
}

// smoothMean is localMean for wide windows: computed on a raster coarser by up
// to a quarter of the window's deviation, where a Gaussian is still sampled well.
func (f field) smoothMean(in []bool, sigma hide.PX) (field, error) {
	v, k, err := f.blockMeans(in, sigma)
	if k == 1 || err != nil {
		return v, err
	}
	return v.spreadOver(f.w, f.h, k), nil
}

// blockMeans are the means of smoothMean on its coarser raster, of blocks of k pixels.
func (f field) blockMeans(in []bool, sigma hide.PX) (v field, k int, err error) {
	if k = max(1, int(float64(sigma)/4)); k == 1 {
		v, _, err = f.localMean(in, sigma)
		return v, k, err
	}
	value, weight := f.blocks(in, k)
	if v, err = value.blurred(sigma / hide.PX(k)); err != nil {
		return f, k, err
	}
	w, err := weight.blurred(sigma / hide.PX(k))
	for i := range w.v {
		v.v[i] /= max(w.v[i], 1e-6)
	}
	return v, k, err
}

// blocks sums values and counts over k × k blocks where in is true.
func (f field) blocks(in []bool, k int) (value, weight field) {
	w, h := (f.w+k-1)/k, (f.h+k-1)/k
	value, weight = newField(w, h), newField(w, h)
	to, count := make([]float32, w), make([]float32, w)
	for y := range f.h {
		row, in := f.v[y*f.w:(y+1)*f.w], in[y*f.w:(y+1)*f.w]
		for b := range to {
			sum, n := to[b], count[b]
			from, end := b*k, min((b+1)*k, len(row))
			values, counts := row[from:end], in[from:end]
			for x, v := range values {
				if counts[x] {
					sum += v
					n++
				}
			}
			to[b], count[b] = sum, n
		}
		if y%k == k-1 || y == f.h-1 {
			copy(value.v[y/k*w:], to)
			copy(weight.v[y/k*w:], count)
			clear(to)
			clear(count)
		}
	}
	return value, weight
}

// spreadOver interpolates block values back to a w × h raster, bilinear
// between block centres.
func (f field) spreadOver(w, h, k int) field {
	out := newField(w, h)
	rows := newStretcher(f, w, k)
	for y := range h {
		copy(out.v[y*w:], rows.row(y))
	}
	return out
}

// stretcher gives the rows of a field of blocks at the width of its pixels.
type stretcher struct {
	f         field
	k         int
	left      []int
	part      []float32
	coarse    []float32
	stretched []float32
}

func newStretcher(f field, w, k int) *stretcher {
	s := &stretcher{f: f, k: k, left: make([]int, w), part: make([]float32, w), coarse: make([]float32, f.w+1), stretched: make([]float32, w)}
	for x := range w {
		s.left[x], s.part[x] = blockBefore(x, k, f.w)
	}
	return s
}

// row is valid until the next call.
func (s *stretcher) row(y int) []float32 {
	f := s.f
	y0, fy := blockBefore(y, s.k, f.h)
	above, below := f.v[y0*f.w:(y0+1)*f.w], f.v[min(y0+1, f.h-1)*f.w:]
	for x := range above {
		s.coarse[x] = above[x]*(1-fy) + below[x]*fy
	}
	s.coarse[f.w] = s.coarse[f.w-1]
	for x, l := range s.left {
		a := s.coarse[l]
		s.stretched[x] = a + s.part[x]*(s.coarse[l+1]-a)
	}
	return s.stretched
}

// blockBefore is the block whose centre lies before fine pixel x, and how far
// towards the next one x lies.
func blockBefore(x, k, blocks int) (int, float32) {
	u := min(max((float32(x)+0.5)/float32(k)-0.5, 0), float32(blocks-1))
	return int(u), u - float32(int(u))
}

// noiseWindow of the leather's own variation: wide against any flaw but a large
// stain, narrow against the change from neck to belly.
const noiseWindow = 45 // mm

// winsor limits how much one pixel tells of the leather's variation, in units
// of the variation everywhere: flaws must not raise it.
const winsor = 3

// noiseEvery thins the pixels that the noise is taken from, in x and in y: it
// varies over noiseWindow, some 45 pixels.
const noiseEvery = 3

// noiseGrid is what the noises of all responses of a surface share.
type noiseGrid struct {
	once   sync.Once
	block  int     // side in pixels
	weight field   // how many values a block's window holds
	at     []int   // pixels whose spread is that of the whole
	sigma  hide.PX // of the window, in blocks
	err    error
}

func (s *surface) noiseGrid() *noiseGrid {
	n := &s.noise
	n.once.Do(func() {
		sigma := float64(noiseWindow / s.grid.MMPerPX)
		n.block = max(noiseEvery, int(sigma/3)/noiseEvery*noiseEvery) // a Gaussian is sampled well at a third of its deviation
		n.sigma = hide.PX(sigma / float64(n.block))
		n.at = s.samplePlaces()
		w, h := s.grid.Width, s.grid.Height
		weight := newField((w+n.block-1)/n.block, (h+n.block-1)/n.block)
		for y := 0; y < h; y += noiseEvery {
			for x := 0; x < w; x += noiseEvery {
				if s.in[y*w+x] {
					weight.v[y/n.block*weight.w+x/n.block]++
				}
			}
		}
		n.weight, n.err = weight.blurred(n.sigma)
	})
	return n
}

// coarseNoise is the local root mean square of a zero-mean response, winsorised,
// and never under half of that of the whole hide; per block of so many pixels.
func coarseNoise[T float32 | pix.Short](s *surface, r []T) (noise field, block int, err error) {
	n := s.noiseGrid()
	if n.err != nil {
		return noise, n.block, n.err
	}
	all := float32(math.Max(spread(sampleOf(s, r)), 1e-9))
	sum := newField(n.weight.w, n.weight.h)
	if err = pix.AddBlockSquares(pix.Blocks{Values: sum.v, Side: n.block, Width: sum.w}, r, s.in, s.grid.Width, noiseEvery, winsor*all); err != nil {
		return noise, n.block, err
	}
	if sum, err = sum.blurred(n.sigma); err != nil {
		return noise, n.block, err
	}
	for i, v := range sum.v {
		sum.v[i] = max(float32(math.Sqrt(float64(max(v, 0)/max(n.weight.v[i], 1e-6)))), all/2)
	}
	return sum, n.block, nil
}

// samples of a response that its spread is taken from: the error of a median
// deviation from n of them is about 1.17/√n, two percent, of what only limits others.
const samples = 4000

func (s *surface) samplePlaces() []int {
	step := max(1, len(s.in)/samples)
	// a stride that shares no factor with the width visits all columns
	for step > 1 && gcd(step, s.grid.Width) > 1 {
		step++
	}
	var out []int
	for i := 0; i < len(s.in); i += step {
		if s.in[i] {
			out = append(out, i)
		}
	}
	return out
}

func sampleOf[T float32 | pix.Short](s *surface, r []T) []float64 {
	at := s.noiseGrid().at
	out := make([]float64, len(at))
	switch v := any(r).(type) {
	case []float32:
		for k, i := range at {
			out[k] = float64(v[i])
		}
	case []pix.Short:
		for k, i := range at {
			out[k] = float64(v[i].Float32())
		}
	}
	return out
}

func gcd(a, b int) int {
	for b != 0 {
		a, b = b, a%b
	}
	return a
}

// scores divides a response by its noise; 0 outside the leather.
func (s *surface) scores(r field) (field, error) {
	noise, block, err := coarseNoise(s, r.v)
	if err != nil {
		return r, err
	}
	out := newField(r.w, r.h)
	rows := newStretcher(noise, r.w, block)
	for y := range r.h {
		n := rows.row(y)
		for x, v := range n {
			if i := y*r.w + x; s.in[i] {
				out.v[i] = r.v[i] / v
			}
		}
	}
	return out, nil
}

// level is the surface at a pixel twice, four times, … as large.
func (s *surface) level(k int) (*surface, error) {
	if k == 1 {
		return s, nil
	}
	out := &surface{grid: s.grid.Scaled(s.grid.MMPerPX * hide.MM(k))}
	out.in = make([]bool, out.grid.Width*out.grid.Height)
	var weight field
	for _, l := range s.lit {
		var v field
		v, weight = l.tone.blocks(s.in, k)
		for i, w := range weight.v {
			v.v[i] /= max(w, 1)
		}
		out.lit = append(out.lit, litSurface{light: l.light, tone: v, from: l.from})
	}
	for i, w := range weight.v {
		out.in[i] = w >= float32(k*k)/2
	}
	return out, nil
}
