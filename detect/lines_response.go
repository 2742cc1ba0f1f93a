package detect

import (
	"math"
	"runtime"
	"slices"

	"golang.org/x/sync/errgroup"

	"hidechart/hide"
	"hidechart/pix"
)

// lineResponse is, per pixel, how far a line through it stands out of the
// leather's grain in the direction where it does most.
type lineResponse struct {
	z     field   // see fisher
	angle []uint8 // direction of the line in steps, from x towards y down
	step  float64 // radians
}

// lineResponses follows Freeman & Adelson 1991 (steerable derivatives), then
// averages along the line as beamlets do (Donoho & Huo 2002): faint long lines
// come out of the grain by their length, not by a lower threshold. Per light the
// even response (a line lighter or darker), and under raking light the odd one
// too (a step, as relief shows), is averaged over 2^doublings pixels, divided by
// its local noise, and the squares are summed over the lights. Of several lengths
// the one that stands out most counts.
func (s *surface) lineResponses(sigma hide.PX, level lineLevel) (lineResponse, error) {
	derivatives, squares, err := s.derivatives(sigma, level.back)
	if err != nil {
		return lineResponse{}, err
	}
	partial := make([]lineResponse, 4) // fixed number: the result does not depend on the machine
	var group errgroup.Group
	group.SetLimit(runtime.GOMAXPROCS(0)) // each holds some fields
	for k := range partial {
		group.Go(func() error {
			w := newBeam(s, level)
			for o := k; o < level.directions; o += len(partial) {
				if err := w.direction(derivatives, o); err != nil {
					return err
				}
			}
			partial[k] = w.best
			return nil
		})
	}
	if err := group.Wait(); err != nil {
		return lineResponse{}, err
	}
	return strongest(partial, squares), nil
}

// fisher turns a sum of n squares of unit normals into a unit normal (Fisher's
// approximation, √(2χ²) − √(2n−1)), so that a limit means the same whatever the
// number of lights; 0 where it would be negative.
func fisher(sum float32, n int) float32 {
	return max(float32(math.Sqrt(2*float64(sum))-math.Sqrt(float64(2*n-1))), 0)
}

func strongest(partial []lineResponse, squares int) lineResponse {
	out := partial[0]
	for _, r := range partial[1:] {
		for i, v := range r.z.v {
			if v > out.z.v[i] || (v == out.z.v[i] && r.angle[i] < out.angle[i]) {
				out.z.v[i], out.angle[i] = v, r.angle[i]
			}
		}
	}
	for i, v := range out.z.v {
		out.z.v[i] = fisher(v, squares)
	}
	return out
}

// gradients are the Gaussian derivatives of one light; the first ones only where
// the odd response counts.
type gradients struct {
	odd              bool
	x, y, xx, xy, yy field
}

// derivatives also returns how many squares a response sums.
func (s *surface) derivatives(sigma hide.PX, back bool) ([]gradients, int, error) {
	k := [3][]float64{pix.GaussianKernel(sigma, 0), pix.GaussianKernel(sigma, 1), pix.GaussianKernel(sigma, 2)}
	lit := s.lit
	if !back {
		lit = slices.DeleteFunc(slices.Clone(lit), func(l litSurface) bool { return l.light == hide.Back })
	}
	out := make([]gradients, len(lit))
	squares := 0
	for n, l := range lit {
		out[n].odd = l.light.Rake()
		wanted := []derivative{{&out[n].xx, 2, 0}, {&out[n].xy, 1, 1}, {&out[n].yy, 0, 2}}
		squares++
		if out[n].odd {
			wanted = append(wanted, derivative{&out[n].x, 1, 0}, derivative{&out[n].y, 0, 1})
			squares++
		}
		if err := fillDerivatives(l.tone, k, wanted); err != nil {
			return nil, 0, err
		}
	}
	return out, squares, nil
}

type derivative struct {
	to   *field
	x, y int // orders
}

func fillDerivatives(f field, k [3][]float64, wanted []derivative) error {
	im := f.image()
	defer im.Close()
	for _, d := range wanted {
		r, err := pix.Separable(im, k[d.x], k[d.y])
		if err != nil {
			return err
		}
		*d.to = fieldOf(r)
		r.Close()
	}
	return nil
}

// beam sums responses along one direction after another; best.z holds sums of
// squares until strongest is done.
type beam struct {
	s         *surface
	doublings []int
	best      lineResponse
	work      [2]field
	sums      []field // one per length
	spans     []span  // of the leather, per row, widened by the longest stretch
}

func newBeam(s *surface, level lineLevel) *beam {
	w, h := s.grid.Width, s.grid.Height
	b := &beam{s: s, doublings: level.doublings, work: [2]field{newField(w, h), newField(w, h)}}
	b.best = lineResponse{z: newField(w, h), angle: make([]uint8, w*h), step: math.Pi / float64(level.directions)}
	b.spans = s.spans(1 << level.doublings[len(level.doublings)-1])
	for range level.doublings {
		b.sums = append(b.sums, newField(w, h))
	}
	return b
}

// direction keeps the strongest response so far.
func (b *beam) direction(d []gradients, o int) error {
	for _, sum := range b.sums {
		clear(sum.v)
	}
	angle := float64(o) * b.best.step
	c, n := float32(math.Cos(angle)), float32(math.Sin(angle))
	for _, g := range d {
		to := b.work[0].v
		for _, p := range b.spans { // second derivative across the line, whose normal is (−n, c)
			for i := p.from; i < p.to; i++ {
				to[i] = n*n*g.xx.v[i] - 2*n*c*g.xy.v[i] + c*c*g.yy.v[i]
			}
		}
		if err := b.along(angle); err != nil {
			return err
		}
		if !g.odd {
			continue
		}
		to = b.work[0].v
		for _, p := range b.spans {
			for i := p.from; i < p.to; i++ {
				to[i] = -n*g.x.v[i] + c*g.y.v[i]
			}
		}
		if err := b.along(angle); err != nil {
			return err
		}
	}
	for _, sum := range b.sums {
		for _, p := range b.spans {
			for i := p.from; i < p.to; i++ {
				if sum.v[i] > b.best.z.v[i] && b.s.in[i] {
					b.best.z.v[i], b.best.angle[i] = sum.v[i], uint8(o)
				}
			}
		}
	}
	return nil
}

// along sums work[0] over 2^doublings pixels from each pixel on, by doubling, and
// at each wanted length adds the squared score to that length's sum, moved from a
// stretch's start to its middle.
func (b *beam) along(angle float64) error {
	var ex, ey, next int
	for k := range b.doublings[len(b.doublings)-1] {
		l := float64(int(1) << k)
		sx, sy := int(math.Round(l*math.Cos(angle))), int(math.Round(l*math.Sin(angle)))
		doubled(b.work[1], b.work[0], b.spans, sx, sy)
		b.work[0], b.work[1] = b.work[1], b.work[0]
		ex, ey = ex+sx, ey+sy
		if k+1 != b.doublings[next] {
			continue
		}
		noise, block, err := b.s.coarseNoise(b.work[0])
		if err != nil {
			return err
		}
		addSquares(b.sums[next], b.work[0], noise, b.spans, block, ex/2, ey/2)
		next++
	}
	return nil
}

// span is a row's stretch of pixels, as indices into the raster.
type span struct{ from, to int }

// spans are, per row, from the first pixel of leather to the last within margin
// rows, widened by margin columns; empty rows have an empty span.
func (s *surface) spans(margin int) []span {
	w, h := s.grid.Width, s.grid.Height
	first, last := make([]int, h), make([]int, h)
	for y := range h {
		first[y], last[y] = w, -1
		for x := range w {
			if s.in[y*w+x] {
				first[y], last[y] = min(first[y], x), x
			}
		}
	}
	out := make([]span, h)
	for y := range h {
		lo, hi := w, -1
		for k := max(0, y-margin); k < min(h, y+margin+1); k++ {
			lo, hi = min(lo, first[k]), max(hi, last[k])
		}
		out[y] = span{y * w, y * w}
		if hi >= lo {
			out[y] = span{y*w + max(0, lo-margin), y*w + min(w, hi+margin+1)}
		}
	}
	return out
}

// doubled writes a(p) + a(p + shift) over the spans; beyond the raster a is 0.
func doubled(out, a field, spans []span, sx, sy int) {
	for y, p := range spans {
		lo, hi := max(p.from, y*a.w-sx), min(p.to, (y+1)*a.w-sx) // where x + sx stays in the row
		if y+sy < 0 || y+sy >= a.h || lo >= hi {
			copy(out.v[p.from:p.to], a.v[p.from:p.to])
			continue
		}
		copy(out.v[p.from:lo], a.v[p.from:lo])
		copy(out.v[hi:p.to], a.v[hi:p.to])
		shift := sy*a.w + sx
		to, own, other := out.v[lo:hi], a.v[lo:hi], a.v[lo+shift:hi+shift]
		for x, v := range other {
			to[x] = own[x] + v
		}
	}
}

// addSquares adds (r/noise)², moved by (dx, dy); noise is given per block, which
// is small against the window it was taken from.
func addSquares(sum, r, noise field, spans []span, block, dx, dy int) {
	for y := max(0, -dy); y < min(r.h, r.h-dy); y++ {
		start := y * r.w
		lo, hi := max(spans[y].from, start-dx), min(spans[y].to, start+r.w-dx)
		shift := dy*r.w + dx
		row := noise.v[y/block*noise.w:]
		for lo < hi {
			k := (lo - start) / block
			end := min(hi, start+(k+1)*block)
			inverse := 1 / (row[k] * row[k])
			from, to := r.v[lo:end], sum.v[lo+shift:end+shift]
			for x, v := range from {
				to[x] += v * v * inverse
			}
			lo = end
		}
	}
}
