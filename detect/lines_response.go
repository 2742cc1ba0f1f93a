package detect

import (
	"math"

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
// come out of the grain by their length, not by a lower threshold. Per light
// both the even response (a line lighter or darker) and the odd one (a step, as
// relief shows under raking light) are averaged over 2^doublings pixels, divided
// by their local noise, and their squares summed over the lights.
func (s *surface) lineResponses(sigma hide.PX, doublings int) (lineResponse, error) {
	derivatives, err := s.derivatives(sigma)
	if err != nil {
		return lineResponse{}, err
	}
	partial := make([]lineResponse, 4) // fixed number: the result does not depend on the machine
	var group errgroup.Group
	for k := range partial {
		group.Go(func() error {
			r := lineResponse{z: newField(s.grid.Width, s.grid.Height), angle: make([]uint8, len(s.in))}
			work := [2]field{newField(s.grid.Width, s.grid.Height), newField(s.grid.Width, s.grid.Height)}
			for o := k; o < orientations; o += len(partial) {
				if err := s.oneDirection(&r, derivatives, o, doublings, work); err != nil {
					return err
				}
			}
			partial[k] = r
			return nil
		})
	}
	if err := group.Wait(); err != nil {
		return lineResponse{}, err
	}
	return strongest(partial, 2*len(s.lit)), nil
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

// gradients are the Gaussian derivatives of one light.
type gradients struct{ x, y, xx, xy, yy field }

func (s *surface) derivatives(sigma hide.PX) ([]gradients, error) {
	k := [3][]float64{pix.GaussianKernel(sigma, 0), pix.GaussianKernel(sigma, 1), pix.GaussianKernel(sigma, 2)}
	out := make([]gradients, len(s.lit))
	for n, l := range s.lit {
		im := l.tone.image()
		for _, d := range []struct {
			to   *field
			x, y int
		}{{&out[n].x, 1, 0}, {&out[n].y, 0, 1}, {&out[n].xx, 2, 0}, {&out[n].xy, 1, 1}, {&out[n].yy, 0, 2}} {
			r, err := pix.Separable(im, k[d.x], k[d.y])
			if err != nil {
				im.Close()
				return nil, err
			}
			*d.to = fieldOf(r)
			r.Close()
		}
		im.Close()
	}
	return out, nil
}

// oneDirection adds the responses along one direction to the strongest so far
// (z holds sums of squares until strongest is done).
func (s *surface) oneDirection(best *lineResponse, d []gradients, o, doublings int, work [2]field) error {
	angle := float64(o) * math.Pi / orientations
	c, n := float32(math.Cos(angle)), float32(math.Sin(angle))
	sum := newField(s.grid.Width, s.grid.Height)
	for _, g := range d {
		for _, even := range []bool{true, false} {
			for i := range work[0].v {
				if even { // second derivative across the line, whose normal is (−n, c)
					work[0].v[i] = n*n*g.xx.v[i] - 2*n*c*g.xy.v[i] + c*c*g.yy.v[i]
				} else {
					work[0].v[i] = -n*g.x.v[i] + c*g.y.v[i]
				}
			}
			along, dx, dy := averaged(work[0], work[1], angle, doublings)
			noise, err := s.noise(along)
			if err != nil {
				return err
			}
			addSquares(sum, along, noise, dx, dy)
		}
	}
	for i, in := range s.in {
		if in && sum.v[i] > best.z.v[i] {
			best.z.v[i], best.angle[i] = sum.v[i], uint8(o)
		}
	}
	return nil
}

// averaged is the mean over 2^doublings pixels starting at each pixel along the
// direction, by doubling; (dx, dy) is the offset from a pixel to the middle of
// its stretch. Both fields are overwritten; the result is one of them.
func averaged(a, b field, angle float64, doublings int) (mean field, dx, dy int) {
	var ex, ey int
	for k := range doublings {
		l := float64(int(1) << k)
		sx, sy := int(math.Round(l*math.Cos(angle))), int(math.Round(l*math.Sin(angle)))
		halfSum(b, a, sx, sy)
		a, b = b, a
		ex, ey = ex+sx, ey+sy
	}
	return a, ex / 2, ey / 2
}

// halfSum writes (a(p) + a(p + shift)) / 2; beyond the raster a is 0.
func halfSum(out, a field, sx, sy int) {
	for y := range a.h {
		row := out.v[y*a.w : (y+1)*a.w]
		from := a.v[y*a.w : (y+1)*a.w]
		for x, v := range from {
			row[x] = v / 2
		}
		if y+sy < 0 || y+sy >= a.h {
			continue
		}
		other := a.v[(y+sy)*a.w : (y+sy+1)*a.w]
		lo, hi := max(0, -sx), min(a.w, a.w-sx)
		for x := lo; x < hi; x++ {
			row[x] += other[x+sx] / 2
		}
	}
}

// addSquares adds (r/noise)², moved from a stretch's start to its middle.
func addSquares(sum, r, noise field, dx, dy int) {
	for y := max(0, dy); y < min(r.h, r.h+dy); y++ {
		for x := max(0, dx); x < min(r.w, r.w+dx); x++ {
			i := (y-dy)*r.w + x - dx
			v := r.v[i] / noise.v[i]
			sum.v[y*r.w+x] += v * v
		}
	}
}
