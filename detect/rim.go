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
	sharp  float64 // share of the step that lies within rimNear of the border, tone
	clear  float64 // how surely the step is more than the slope beside it goes on, tone
	dyed   float64 // the same of the colour difference in which it is plainest
}

// The two sides are compared rimReach off the border, clear of the blur of the
// patch search, every rimStep along it; the slope beside it rimBeside further off.
const (
	rimNear   hide.MM = 1.5
	rimReach  hide.MM = 4
	rimBeside hide.MM = 2 * rimReach
	rimStep   hide.MM = 3
)

func (s *surface) rimOf(r hide.Ring) rim {
	for _, l := range s.lit {
		if l.light != hide.Top {
			continue
		}
		across := crossings(r)
		steps := s.steps(l.wide, across, rimReach)
		out := rim{clear: s.overSlope(l.wide, across)}
		mean, deviation := meanAndDeviation(steps)
		out.step, out.even = mean, math.Abs(mean)/math.Max(deviation, 1e-6)
		for _, v := range steps {
			if v*out.step > 0 {
				out.steady += 1 / float64(len(steps))
			}
		}
		near, _ := meanAndDeviation(s.steps(l.wide, across, rimNear))
		out.sharp = min(max(near*mean/math.Max(mean*mean, 1e-12), -1), 2)
		for _, h := range l.hue {
			v, _ := meanAndDeviation(s.steps(h, across, rimReach))
			out.hue = math.Hypot(out.hue, v)
			out.dyed = math.Max(out.dyed, s.overSlope(h, across))
		}
		return out
	}
	return rim{}
}

// overSlope is the mean step across the border less the mean of the two next to it,
// as long, inside and outside, over its standard error: a cloud's flank goes on, so that
// about nothing is left of it (a second difference, as Student's t).
func (s *surface) overSlope(f field, across []crossing) float64 {
	var steps, over []float64
	for _, c := range across {
		var v [4]float64
		seen := true
		for k, off := range [4]hide.MM{-rimReach - rimBeside, -rimReach, rimReach, rimReach + rimBeside} {
			var ok bool
			v[k], ok = s.sample(f, c.off(off))
			seen = seen && ok
		}
		if seen {
			steps = append(steps, v[1]-v[2])
			over = append(over, v[1]-v[2]-(v[0]-v[1]+v[2]-v[3])/2)
		}
	}
	if len(over) < 3 {
		return 0
	}
	step, _ := meanAndDeviation(steps)
	mean, deviation := meanAndDeviation(over)
	return math.Copysign(mean, mean*step) / math.Max(deviation, 1e-6) * math.Sqrt(float64(len(over)))
}

// meanAndDeviation are 0 of nothing.
func meanAndDeviation(v []float64) (mean, deviation float64) {
	var square float64
	for _, x := range v {
		mean += x / float64(len(v))
		square += x * x / float64(len(v))
	}
	return mean, math.Sqrt(math.Max(square-mean*mean, 0))
}

// crossing is where a border is looked across: a place on it and the direction out of it.
type crossing struct {
	at     hide.Point
	nx, ny hide.MM
}

// off is the place so far outside the border; inside, if negative.
func (c crossing) off(d hide.MM) hide.Point {
	return hide.Point{X: c.at.X + d*c.nx, Y: c.at.Y + d*c.ny}
}

// crossings of a counter-clockwise ring, every rimStep along it.
func crossings(r hide.Ring) []crossing {
	var out []crossing
	var past hide.MM
	for i, a := range r {
		b := r[(i+1)%len(r)]
		n := a.Distance(b)
		if n == 0 {
			continue
		}
		for ; past < n; past += rimStep {
			t := past / n
			out = append(out, crossing{hide.Point{X: a.X + t*(b.X-a.X), Y: a.Y + t*(b.Y-a.Y)}, (b.Y - a.Y) / n, (a.X - b.X) / n})
		}
		past -= n
	}
	return out
}

// steps are the differences, inside less outside, so far off the border.
func (s *surface) steps(f field, across []crossing, reach hide.MM) []float64 {
	var out []float64
	for _, c := range across {
		in, ok := s.sample(f, c.off(-reach))
		beyond, ok2 := s.sample(f, c.off(reach))
		if ok && ok2 {
			out = append(out, in-beyond)
		}
	}
	return out
}
