package detect

import (
	"math"

	"hidechart/hide"
)

// looks is what a candidate looks like under each light.
type looks struct {
	width              hide.MM
	topTone, topStep   float64
	rakeTone, rakeStep float64
	backTone           float64
	hue                float64
	steady             float64
	lights             []hide.Light
}

func (m looks) store(x []float64) {
	set(x, fTopTone, m.topTone)
	set(x, fTopStep, m.topStep)
	set(x, fRakeTone, m.rakeTone)
	set(x, fRakeStep, m.rakeStep)
	set(x, fBackTone, m.backTone)
	set(x, fHue, m.hue)
	set(x, fSteady, m.steady)
}

// Profiles across a line reach this far to either side, in steps of half a
// millimetre; the outer third is the leather beside.
const (
	profileReach = 12.0 // mm
	profileStep  = 0.5  // mm
)

func profileSize() int { return 2*int(profileReach/profileStep) + 1 }

// across measures a line by its mean profile under each light.
func (s *surface) across(t trace) looks {
	m := looks{topTone: math.NaN(), topStep: math.NaN(), rakeTone: math.NaN(), rakeStep: math.NaN(), backTone: math.NaN(), hue: math.NaN(), steady: math.NaN()}
	energy := make([]float64, profileSize())
	for _, l := range s.lit {
		p := s.profile(l.tone, t.line)
		base := outer(p)
		for k := range p {
			p[k] -= base
			if l.light != hide.Back {
				energy[k] += p[k] * p[k]
			}
		}
		tone, step := evenOdd(p, float64(t.sigma))
		switch l.light {
		case hide.Top:
			m.topTone, m.topStep = tone, step
			m.steady = s.steadiness(l.tone, t.line, tone)
			if len(l.hue) > 0 {
				m.hue = s.hueAcross(l, t)
			}
		case hide.Back:
			m.backTone = tone
		default:
			m.rakeTone, m.rakeStep = larger(m.rakeTone, tone), larger(m.rakeStep, step)
		}
		if math.Max(math.Abs(tone), step) > 0.01 {
			m.lights = append(m.lights, l.light)
		}
	}
	if m.lights == nil {
		m.lights = []hide.Light{s.lit[0].light}
	}
	m.width = widthOf(energy)
	return m
}

func (s *surface) hueAcross(l litSurface, t trace) float64 {
	var sum float64
	for _, h := range l.hue {
		p := s.profile(h, t.line)
		base := outer(p)
		for k := range p {
			p[k] -= base
		}
		tone, _ := evenOdd(p, float64(t.sigma))
		sum += tone * tone
	}
	return math.Sqrt(sum)
}

func larger(a, b float64) float64 {
	if math.IsNaN(a) || math.Abs(b) > math.Abs(a) {
		return b
	}
	return a
}

// profile is the mean over the line of the field at each distance to the side.
func (s *surface) profile(f field, line []hide.Point) []float64 {
	out := make([]float64, profileSize())
	weight := make([]float64, len(out))
	for k := 1; k < len(line); k++ {
		a, b := line[k-1], line[k]
		dx, dy := float64(b.X-a.X), float64(b.Y-a.Y)
		n := math.Hypot(dx, dy)
		if n == 0 {
			continue
		}
		for j := range out {
			d := hide.MM(profileStep*float64(j) - profileReach)
			q := hide.Point{X: (a.X+b.X)/2 - d*hide.MM(dy/n), Y: (a.Y+b.Y)/2 + d*hide.MM(dx/n)}
			if v, ok := s.sample(f, q); ok {
				out[j] += n * v
				weight[j] += n
			}
		}
	}
	for j := range out {
		if weight[j] > 0 {
			out[j] /= weight[j]
		}
	}
	return out
}

// sample is the bilinear value at a table position on the leather.
func (s *surface) sample(f field, q hide.Point) (float64, bool) {
	r := s.grid.ToRaster(q)
	x, y := int(math.Floor(float64(r.X))), int(math.Floor(float64(r.Y)))
	if x < 0 || y < 0 || x >= f.w-1 || y >= f.h-1 {
		return 0, false
	}
	i := y*f.w + x
	return float64(f.bilinear(i, float32(float64(r.X)-float64(x)), float32(float64(r.Y)-float64(y)))), s.in[i]
}

func outer(p []float64) float64 {
	n := len(p) / 6
	var sum float64
	for k := range n {
		sum += p[k] + p[len(p)-1-k]
	}
	return sum / float64(2*n)
}

// evenOdd returns the mean tone within one scale of the middle and the largest
// difference between the two sides within three.
func evenOdd(p []float64, sigma float64) (tone, step float64) {
	mid := len(p) / 2
	n := min(max(1, int(sigma/profileStep)), mid)
	for k := -n; k <= n; k++ {
		tone += p[mid+k] / float64(2*n+1)
	}
	for k := 1; k <= min(3*n, mid); k++ {
		step = math.Max(step, math.Abs(p[mid+k]-p[mid-k])/2)
	}
	return tone, step
}

// least and most width of a line that the photographs resolve.
const (
	leastWidth hide.MM = 1.5
	mostWidth  hide.MM = 14
)

// widthOf is where the profile's energy falls under a quarter of its peak
// (half in tone), outward from the middle.
func widthOf(energy []float64) hide.MM {
	mid := len(energy) / 2
	peak, at := 0.0, mid
	for k := mid - 6; k <= mid+6; k++ {
		if energy[k] > peak {
			peak, at = energy[k], k
		}
	}
	lo, hi := at, at
	for lo > 0 && energy[lo-1] > peak/4 {
		lo--
	}
	for hi < len(energy)-1 && energy[hi+1] > peak/4 {
		hi++
	}
	return min(max(hide.MM(float64(hi-lo+1)*profileStep), leastWidth), mostWidth)
}

// steadiness is the share of the line's pieces whose own tone has the sign of
// the whole: a line is steady, a chance alignment of grain is not.
func (s *surface) steadiness(f field, line []hide.Point, tone float64) float64 {
	const piece = 4 // vertices, about 8 mm
	var agree, all float64
	for k := 0; k+piece < len(line); k += piece {
		p := s.profile(f, line[k:k+piece+1])
		v, _ := evenOdd(p, 1)
		if (v-outer(p) > 0) == (tone > 0) {
			agree++
		}
		all++
	}
	if all == 0 {
		return math.NaN()
	}
	return agree / all
}

// evenness is how much of the line's length carries its contrast: the
// participation ratio (Σe)²/Σe² of the pieces' energies, as a length. A spot that
// averaging has drawn out to a line keeps the length of a spot.
func (s *surface) evenness(line []hide.Point) hide.MM {
	energy := make([]float64, len(line)-1)
	for _, l := range s.lit {
		if l.light == hide.Back {
			continue
		}
		for k := range energy {
			p := s.profile(l.tone, line[k:k+2])
			base := outer(p)
			for i := range p {
				p[i] -= base
			}
			tone, step := evenOdd(p, 1)
			energy[k] += tone*tone + step*step
		}
	}
	var sum, square float64
	var length hide.MM
	for k, e := range energy {
		sum, square = sum+e, square+e*e
		length += line[k].Distance(line[k+1])
	}
	if square == 0 {
		return length
	}
	return length * hide.MM(sum*sum/square/float64(len(energy)))
}

// inner measures an area by its mean inside against a rim outside it.
func (s *surface) inner(shape hide.Shape) looks {
	m := looks{topTone: math.NaN(), topStep: math.NaN(), rakeTone: math.NaN(), rakeStep: math.NaN(), backTone: math.NaN(), hue: math.NaN(), steady: math.NaN()}
	inside := s.pixels(shape)
	for _, l := range s.lit {
		tone, rough := s.meanAndRoughness(l.tone, inside)
		switch l.light {
		case hide.Top:
			m.topTone, m.topStep = tone, rough
			if len(l.hue) > 0 {
				var sum float64
				for _, h := range l.hue {
					v, _ := s.meanAndRoughness(h, inside)
					sum += v * v
				}
				m.hue = math.Sqrt(sum)
			}
		case hide.Back:
			m.backTone = tone
		default:
			m.rakeTone, m.rakeStep = larger(m.rakeTone, tone), larger(m.rakeStep, rough)
		}
		if math.Abs(tone) > 0.01 || l.light == hide.Top {
			m.lights = append(m.lights, l.light)
		}
	}
	return m
}

// meanAndRoughness of the tone over some pixels; roughness is the root mean
// square about the mean.
func (s *surface) meanAndRoughness(f field, at []int) (mean, rough float64) {
	var n, sum, square float64
	for _, i := range at {
		if s.in[i] {
			v := float64(f.v[i])
			n, sum, square = n+1, sum+v, square+v*v
		}
	}
	if n == 0 {
		return math.NaN(), math.NaN()
	}
	mean = sum / n
	return mean, math.Sqrt(math.Max(square/n-mean*mean, 0))
}
