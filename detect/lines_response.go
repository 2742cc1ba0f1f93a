package detect

import (
	"math"
	"runtime"

	"golang.org/x/sync/errgroup"

	"hidechart/hide"
	"hidechart/pix"
)

// lineResponse is, per pixel, how far a line through it stands out of the
// leather's grain in the direction where it does most.
type lineResponse struct {
	z     field   // see fisher
	angle []uint8 // direction of the line in steps of π/orientations, from x towards y down
}

// orientations of the search: 16 keep a line of 16 pixels within a pixel.
const orientations = 16

// lineResponses follows Freeman & Adelson 1991 (steerable derivatives), then
// averages along the line as beamlets do (Donoho & Huo 2002): faint long lines
// come out of the grain by their length, not by a lower threshold. Per light the
// even response (a line lighter or darker), and under raking light the odd one
// too (a step, as relief shows), is averaged over 2^doublings pixels, divided by
// its local noise, and the squares are summed over the lights. Of several lengths
// the one that stands out most counts.
func (s *surface) lineResponses(sigma hide.PX, doublings []int) (lineResponse, error) {
	derivatives, squares, err := s.derivatives(sigma)
	if err != nil {
		return lineResponse{}, err
	}
	partial := make([]lineResponse, 4) // fixed number: the result does not depend on the machine
	var group errgroup.Group
	group.SetLimit(runtime.GOMAXPROCS(0)) // each holds some fields
	for k := range partial {
		group.Go(func() error {
			w := newBeam(s, doublings)
			for o := k; o < orientations; o += len(partial) {
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
func (s *surface) derivatives(sigma hide.PX) ([]gradients, int, error) {
	k := [3][]float64{pix.GaussianKernel(sigma, 0), pix.GaussianKernel(sigma, 1), pix.GaussianKernel(sigma, 2)}
	out := make([]gradients, len(s.lit))
	squares := 0
	for n, l := range s.lit {
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
}

func newBeam(s *surface, doublings []int) *beam {
	w, h := s.grid.Width, s.grid.Height
	b := &beam{s: s, doublings: doublings, work: [2]field{newField(w, h), newField(w, h)}}
	b.best = lineResponse{z: newField(w, h), angle: make([]uint8, w*h)}
	for range doublings {
		b.sums = append(b.sums, newField(w, h))
	}
	return b
}

// direction keeps the strongest response so far.
func (b *beam) direction(d []gradients, o int) error {
	for _, sum := range b.sums {
		clear(sum.v)
	}
	angle := float64(o) * math.Pi / orientations
	c, n := float32(math.Cos(angle)), float32(math.Sin(angle))
	for _, g := range d {
		to := b.work[0].v
		for i := range to { // second derivative across the line, whose normal is (−n, c)
			to[i] = n*n*g.xx.v[i] - 2*n*c*g.xy.v[i] + c*c*g.yy.v[i]
		}
		if err := b.along(angle); err != nil {
			return err
		}
		if !g.odd {
			continue
		}
		to = b.work[0].v
		for i := range to {
			to[i] = -n*g.x.v[i] + c*g.y.v[i]
		}
		if err := b.along(angle); err != nil {
			return err
		}
	}
	for _, sum := range b.sums {
		for i, in := range b.s.in {
			if in && sum.v[i] > b.best.z.v[i] {
				b.best.z.v[i], b.best.angle[i] = sum.v[i], uint8(o)
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
		doubled(b.work[1], b.work[0], sx, sy)
		b.work[0], b.work[1] = b.work[1], b.work[0]
		ex, ey = ex+sx, ey+sy
		if k+1 != b.doublings[next] {
			continue
		}
		noise, block, err := b.s.coarseNoise(b.work[0])
		if err != nil {
			return err
		}
		addSquares(b.sums[next], b.work[0], noise, block, ex/2, ey/2)
		next++
	}
	return nil
}

// doubled writes a(p) + a(p + shift); beyond the raster a is 0.
func doubled(out, a field, sx, sy int) {
	for y := range a.h {
		row := out.v[y*a.w : (y+1)*a.w]
		from := a.v[y*a.w : (y+1)*a.w]
		lo, hi := max(0, -sx), min(a.w, a.w-sx)
		if y+sy < 0 || y+sy >= a.h || lo >= hi {
			copy(row, from)
			continue
		}
		copy(row[:lo], from)
		copy(row[hi:], from[hi:])
		other := a.v[(y+sy)*a.w+lo+sx : (y+sy)*a.w+hi+sx]
		to, own := row[lo:hi], from[lo:hi]
		for x, v := range other {
			to[x] = own[x] + v
		}
	}
}

// addSquares adds (r/noise)², moved by (dx, dy); noise is given per block.
func addSquares(sum, r, noise field, block, dx, dy int) {
	rows := newStretcher(noise, r.w, block)
	for y := max(0, -dy); y < min(r.h, r.h-dy); y++ {
		n := rows.row(y)
		lo, hi := max(0, -dx), min(r.w, r.w-dx)
		if lo >= hi {
			return
		}
		from, to := r.v[y*r.w+lo:y*r.w+hi], sum.v[(y+dy)*r.w+lo+dx:(y+dy)*r.w+hi+dx]
		for x, v := range from {
			v /= n[lo+x]
			to[x] += v * v
		}
	}
}
