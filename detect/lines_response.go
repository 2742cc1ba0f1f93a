package detect

import (
	"image"
	"math"
	"slices"

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
	b := newBeam(s, derivatives, level)
	if err := b.search(level.directions); err != nil {
		return lineResponse{}, err
	}
	z := b.best.z
	rows(z.h, func(y int) {
		for i := y * z.w; i < (y+1)*z.w; i++ {
			z.v[i] = fisher(z.v[i], squares)
		}
	})
	return b.best, nil
}

// fisher turns a sum of n squares of unit normals into a unit normal (Fisher's
// approximation, √(2χ²) − √(2n−1)), so that a limit means the same whatever the
// number of lights; 0 where it would be negative.
func fisher(sum float32, n int) float32 {
	return max(float32(math.Sqrt(2*float64(sum))-math.Sqrt(float64(2*n-1))), 0)
}

// gradients are the Gaussian derivatives of one light; the first ones only where
// the odd response counts.
type gradients struct {
	odd              bool
	x, y, xx, xy, yy field
}

// derivatives also returns how many squares a response sums.
func (s *surface) derivatives(sigma hide.PX, back bool) ([]gradients, int, error) {
	k := [][]float64{pix.GaussianKernel(sigma, 0), pix.GaussianKernel(sigma, 1), pix.GaussianKernel(sigma, 2)}
	lit := s.lit
	if !back {
		lit = slices.DeleteFunc(slices.Clone(lit), func(l litSurface) bool { return l.light == hide.Back })
	}
	out, tiles := make([]gradients, len(lit)), s.tilesAround(len(k[0])/2)
	squares := 0
	for n, l := range lit {
		out[n].odd = l.light.Rake()
		wanted := []derivative{{&out[n].xx, 2, 0}, {&out[n].xy, 1, 1}, {&out[n].yy, 0, 2}}
		squares++
		if out[n].odd {
			wanted = append(wanted, derivative{&out[n].x, 1, 0}, derivative{&out[n].y, 0, 1})
			squares++
		}
		if err := fillDerivatives(l.tone, k, wanted, tiles); err != nil {
			return nil, 0, err
		}
	}
	return out, squares, nil
}

type derivative struct {
	to   *field
	x, y int // orders
}

// fillDerivatives computes them on the tiles; elsewhere they are 0.
func fillDerivatives(f field, k [][]float64, wanted []derivative, tiles []image.Rectangle) error {
	var out [][]float32
	var filters []pix.Filter
	for _, d := range wanted {
		*d.to = newField(f.w, f.h)
		out, filters = append(out, d.to.v), append(filters, pix.Filter{{d.x, d.y}})
	}
	return pix.Filters(out, f.v, f.w, k, filters, tiles)
}

// tilesAround are the tiles with leather within reach pixels: beyond, the tone is
// 0, and so is what a kernel of that reach makes of it.
func (s *surface) tilesAround(reach int) []image.Rectangle {
	all := image.Rect(0, 0, s.grid.Width, s.grid.Height)
	return slices.DeleteFunc(pix.Tiles(all.Max.X, all.Max.Y), func(t image.Rectangle) bool {
		return !s.leatherIn(t.Inset(-reach).Intersect(all))
	})
}
