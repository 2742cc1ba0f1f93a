package detect

import (
	"math"

	"hidechart/hide"
)

// rim is how an area differs from the leather just outside its border, under top
// light: a stain by a step of one sign all round, a cloud of the leather's own
// colour by a slope here and there.
type rim struct {
	step   float64 // mean of inside less outside, tone
	steady float64 // share of the border where the step has the sign of the mean
	even   float64 // mean step over its standard deviation along the border
	hue    float64 // mean step of the colour differences
}

// The two sides are compared rimReach off the border, clear of the blur of the
// patch search, every rimStep along it.
const (
	rimReach hide.MM = 4
	rimStep  hide.MM = 3
)

func (s *surface) rimOf(r hide.Ring) rim {
	for _, l := range s.lit {
		if l.light != hide.Top {
			continue
		}
		steps := s.steps(l.wide, r)
		out := rim{}
		var square float64
		for _, v := range steps {
			out.step += v / float64(len(steps))
			square += v * v / float64(len(steps))
		}
		for _, v := range steps {
			if v*out.step > 0 {
				out.steady += 1 / float64(len(steps))
			}
		}
		out.even = math.Abs(out.step) / math.Max(math.Sqrt(math.Max(square-out.step*out.step, 0)), 1e-6)
		for _, h := range l.hue {
			var mean float64
			hues := s.steps(h, r)
			for _, v := range hues {
				mean += v / float64(len(hues))
			}
			out.hue += mean * mean
		}
		out.hue = math.Sqrt(out.hue)
		return out
	}
	return rim{}
}

// steps are the differences, inside less outside, along a counter-clockwise ring.
func (s *surface) steps(f field, r hide.Ring) []float64 {
	var out []float64
	var past hide.MM
	for i, a := range r {
		b := r[(i+1)%len(r)]
		n := a.Distance(b)
		if n == 0 {
			continue
		}
		nx, ny := (b.Y-a.Y)/n, (a.X-b.X)/n // outward
		for ; past < n; past += rimStep {
			t := past / n
			q := hide.Point{X: a.X + t*(b.X-a.X), Y: a.Y + t*(b.Y-a.Y)}
			in, ok := s.sample(f, hide.Point{X: q.X - rimReach*nx, Y: q.Y - rimReach*ny})
			beyond, ok2 := s.sample(f, hide.Point{X: q.X + rimReach*nx, Y: q.Y + rimReach*ny})
			if ok && ok2 {
				out = append(out, in-beyond)
			}
		}
		past -= n
	}
	return out
}
