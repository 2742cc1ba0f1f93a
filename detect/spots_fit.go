package detect

import (
	"cmp"
	"image"
	"math"
	"slices"

	"hidechart/hide"
	"hidechart/pix"
	"hidechart/plane"
)

// Spots are sought on whole pixels, at three scales and with responses that also answer beside
// them. Those that are charted are measured anew: their middle between pixels, at ten scales, where under
// raking light only the derivative along the light counts. A dome or a pit has a light and a dark
// side; the derivative answers between the two, the Laplacian on each.

// fitScales are blob deviations in work pixels, a fifth apart: discs of 1 to 5 mm radius.
func fitScales() []hide.PX {
	out := make([]hide.PX, 10)
	for k := range out {
		out[k] = hide.PX(0.7 * math.Pow(1.2, float64(k)))
	}
	return out
}

// fitNoise is the scale at which a light's variation beside the spot is taken, for all scales alike: weighed each by
// its own, scales would be told by the grain.
const fitNoise = 4

// fitHalf of the window that a spot is measured in, work pixels: four of the largest deviation.
const fitHalf = 15

// fitReach is how far the middle is sought from where the spot was found, and fitPull the
// deviation with which it is expected there, work pixels: in strong grain the next grain is near.
const (
	fitReach         = 4
	fitPull  float64 = 4
)

// fitted is the spot where its squared scores under all lights but back, added, are largest over place and scale, to
// a part of a pixel by parabolas. Responses are normalised by the square of the deviation: in the middle of a disc of
// radius r the Laplacian then answers most at r/√2 (Lindeberg 1998, "Feature detection with automatic scale selection",
// IJCV 30), and the derivative on the slope of a Gaussian dome at the dome's deviation. It stays as it was found where that would
// lie off the leather.
func (s *surface) fitted(q spot) (spot, error) {
	at := s.grid.ToRaster(q.at)
	x, y := int(math.Round(float64(at.X))), int(math.Round(float64(at.Y)))
	sums := make([]field, len(fitScales()))
	for k := range sums {
		sums[k] = newField(2*fitHalf+1, 2*fitHalf+1)
	}
	for _, l := range s.lit {
		if l.light == hide.Back {
			continue
		}
		if err := addScores(sums, l.tone.window(x, y, fitHalf), l.light); err != nil {
			return q, err
		}
	}
	k, i := strongestFit(sums)
	w := sums[k].w
	mid := func(step int) hide.PX {
		v := sums[k].v
		return hide.PX(peakOff(v[i-step], v[i], v[i+step]))
	}
	scale := float64(k)
	if k > 0 && k < len(sums)-1 {
		scale += peakOff(sums[k-1].v[i], sums[k].v[i], sums[k+1].v[i])
	}
	to := pix.Point{X: hide.PX(x+i%w-fitHalf) + mid(1), Y: hide.PX(y+i/w-fitHalf) + mid(w)}
	if !s.in[clampedIndex(to, s.grid)] {
		return q, nil // the edge beside it answers more
	}
	q.at = s.grid.ToTable(to)
	q.radius = hide.MM(math.Sqrt2*float64(fitScales()[0])*math.Pow(1.2, scale)) * s.grid.MMPerPX
	return q, nil
}

// window is the part of a field within half of a pixel, 0 beyond the field.
func (f field) window(x, y, half int) field {
	out := newField(2*half+1, 2*half+1)
	for v := range out.h {
		row := y + v - half
		if row < 0 || row >= f.h {
			continue
		}
		for u := max(0, half-x); u < min(out.w, f.w+half-x); u++ {
			out.v[v*out.w+u] = f.v[row*f.w+x+u-half]
		}
	}
	return out
}

// addScores adds, scale by scale, the squares of a light's response in units of its spread in the window.
func addScores(sums []field, tone field, l hide.Light) error {
	responses := make([]field, len(sums))
	all := []image.Rectangle{image.Rect(0, 0, tone.w, tone.h)}
	for k, sigma := range fitScales() {
		responses[k] = newField(tone.w, tone.h)
		kernels := [][]float64{pix.GaussianKernel(sigma, 0), pix.GaussianKernel(sigma, 1), pix.GaussianKernel(sigma, 2)}
		filter := pix.Filter{{2, 0}, {0, 2}}
		if dx, dy := raking(l); dx != 0 {
			filter = pix.Filter{{1, 0}}
		} else if dy != 0 {
			filter = pix.Filter{{0, 1}}
		}
		if err := pix.Filters([][]float32{responses[k].v}, tone.v, tone.w, kernels, []pix.Filter{filter}, all); err != nil {
			return err
		}
		for i := range responses[k].v {
			responses[k].v[i] *= float32(sigma * sigma)
		}
	}
	values := make([]float64, len(tone.v))
	for i, v := range responses[fitNoise].v {
		values[i] = float64(v)
	}
	noise := float32(math.Max(spread(values), 1e-9))
	for k, r := range responses {
		for i, v := range r.v {
			sums[k].v[i] += v / noise * (v / noise)
		}
	}
	return nil
}

// strongestFit is the scale and the pixel of the largest sum, the farther off the less it counts.
func strongestFit(sums []field) (scale, pixel int) {
	w, best := sums[0].w, -1.0
	for k, f := range sums {
		for dy := -fitReach; dy <= fitReach; dy++ {
			for dx := -fitReach; dx <= fitReach; dx++ {
				i := (fitHalf+dy)*w + fitHalf + dx
				if v := float64(f.v[i]) * math.Exp(-float64(dx*dx+dy*dy)/(2*fitPull*fitPull)); v > best {
					best, scale, pixel = v, k, i
				}
			}
		}
	}
	return scale, pixel
}

// peakOff is where between three neighbouring values the parabola through them is highest, in steps from
// the middle one, within half a step.
func peakOff(before, at, after float32) float64 {
	bend := float64(before - 2*at + after)
	if bend >= 0 {
		return 0
	}
	return min(max(float64(before-after)/(2*bend), -0.5), 0.5)
}

// fittedSpots are the spots of a cluster, measured anew; of those that come to lie in one another, which are one mark found
// twice, the one with the highest score.
func (s *surface) fittedSpots(found []spot) ([]spot, error) {
	byScore := slices.Clone(found)
	slices.SortStableFunc(byScore, func(a, b spot) int { return cmp.Compare(b.score, a.score) })
	var out []spot
	for _, q := range byScore {
		fit, err := s.fitted(q)
		if err != nil {
			return nil, err
		}
		if !slices.ContainsFunc(out, func(o spot) bool { return o.at.Distance(fit.at) < max(o.radius, fit.radius) }) {
			out = append(out, fit)
		}
	}
	return out, nil
}

// discsOf is the union of spots.
func discsOf(spots []spot) (hide.Shape, error) {
	discs := make([]hide.Shape, len(spots))
	for i, q := range spots {
		discs[i] = hide.Shape{{Outer: disc(q.at, q.radius)}}
	}
	return plane.Union(discs...)
}
