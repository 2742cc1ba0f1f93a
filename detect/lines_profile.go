package detect

import (
	"math"

	"hidechart/hide"
)

// Profiles across a line reach this far to either side, in steps of half a
// millimetre; the outer third is the leather beside.
const (
	profileReach = 12.0 // mm
	profileStep  = 0.5  // mm
)

func profileSize() int { return 2*int(profileReach/profileStep) + 1 }

// across measures a line by its mean profile under each light.
func (s *surface) across(t trace) looks {
	m := newLooks()
	sigma := float64(t.sigma)
	body := make([]float64, profileSize())
	var rakeEven, rakes float64
	var profiles [][]float64
	for _, l := range s.lit {
		p := s.profile(l.tone, t.line)
		base := outer(p)
		for k := range p {
			p[k] -= base
		}
		tone, step := evenOdd(p, sigma)
		switch l.light {
		case hide.Top:
			m.topTone, m.topStep = tone, step
			m.shoulder = shoulder(p, sigma)
			m.balance = balance(p, sigma)
			m.steady = s.steadiness(l.tone, t.line, tone)
			if len(l.hue) > 0 {
				m.hue = s.hueAcross(l, t)
			}
		case hide.Back:
			m.backTone = tone
		default:
			m.rakeTone, m.rakeStep = larger(m.rakeTone, tone), larger(m.rakeStep, step)
			rakeEven, rakes = rakeEven+tone, rakes+1
		}
		if l.light != hide.Back {
			addBody(body, p, sigma)
			profiles = append(profiles, p)
		}
		if math.Max(math.Abs(tone), step) > 0.01 {
			m.lights = append(m.lights, l.light)
		}
	}
	if m.lights == nil {
		m.lights = []hide.Light{s.lit[0].light}
	}
	if rakes > 0 {
		m.rakeEven = rakeEven / rakes
	}
	m.width = widthOf(body)
	m.common = common(profiles, sigma)
	m.relief = s.reliefOf(t.line, t.sigma)
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

// profile is the mean over the line of the field at each distance to the side.
func (s *surface) profile(f field, line []hide.Point) []float64 {
	out := make([]float64, profileSize())
	weight := make([]float64, len(out))
	s.alongside(f, line, func(j int, _, _, length, v float64) {
		out[j] += length * v
		weight[j] += length
	})
	for j := range out {
		if weight[j] > 0 {
			out[j] /= weight[j]
		}
	}
	return out
}

// alongside visits the field beside each piece of the line: j counts the distances
// to the side from right to left of travel, (nx, ny) points left.
func (s *surface) alongside(f field, line []hide.Point, visit func(j int, nx, ny, length, v float64)) {
	for k := 1; k < len(line); k++ {
		a, b := line[k-1], line[k]
		dx, dy := float64(b.X-a.X), float64(b.Y-a.Y)
		n := math.Hypot(dx, dy)
		if n == 0 {
			continue
		}
		for j := range profileSize() {
			d := hide.MM(profileStep*float64(j) - profileReach)
			q := hide.Point{X: (a.X+b.X)/2 - d*hide.MM(dy/n), Y: (a.Y+b.Y)/2 + d*hide.MM(dx/n)}
			if v, ok := s.sample(f, q); ok {
				visit(j, -dy/n, dx/n, n, v)
			}
		}
	}
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

// shoulder is the mean tone from two to four scales beside the middle: a healed
// wound or a burn has a rim, a scratch has none.
func shoulder(p []float64, sigma float64) float64 {
	mid := len(p) / 2
	from, to := max(2, int(2*sigma/profileStep)), min(max(4, int(4*sigma/profileStep)), mid)
	var sum, n float64
	for k := from; k <= to; k++ {
		sum, n = sum+p[mid-k]+p[mid+k], n+2
	}
	return sum / math.Max(n, 1)
}

// balance is the share of a profile that is the same on both sides of where it is strongest, by
// squares: a scratch is dark all through, a ridge has a lit and a shaded flank.
func balance(p []float64, sigma float64) float64 {
	mid, reach := len(p)/2, lobe(sigma)
	for k, from := mid-reach, mid; k <= from+reach; k++ {
		if math.Abs(p[k]) > math.Abs(p[mid]) {
			mid = k
		}
	}
	var even, all float64
	for k := -reach; k <= reach; k++ {
		v := (p[mid+k] + p[mid-k]) / 2
		even, all = even+v*v, all+p[mid+k]*p[mid+k]
	}
	return even / math.Max(all, 1e-12)
}

// common is the share of the profiles that all lights have alike, by squares: colour is the same
// whichever lamp burns, the flanks of a ridge change places. Of a ridge that top light hardly shows
// and that two raking lamps shine on it is 2/3 where both stand on one side of it, and about 0
// where one stands on each. NaN of one light.
func common(profiles [][]float64, sigma float64) float64 {
	if len(profiles) < 2 {
		return math.NaN()
	}
	var mean, all float64
	for k, mid := -lobe(sigma), profileSize()/2; k <= lobe(sigma); k++ {
		var sum float64
		for _, p := range profiles {
			sum += p[mid+k]
			all += p[mid+k] * p[mid+k] / float64(len(profiles))
		}
		mean += sum * sum / float64(len(profiles)*len(profiles))
	}
	return mean / math.Max(all, 1e-12)
}

// lobe is two and a half scales in profile steps: how far the flanks of a ridge reach. Twice it stays
// in the profile.
func lobe(sigma float64) int {
	return min(max(2, int(2.5*sigma/profileStep)), profileSize()/4)
}

// least and most width of a line that the photographs resolve.
const (
	leastWidth hide.MM = 1.5
	mostWidth  hide.MM = 14
)

// furthestShift of a line to the middle of what stands out: a line follows the
// lit or the shaded flank of a ridge at most.
const furthestShift = 3.0 // mm

// middleOf is the centroid, in profile steps from the line, of the smoothed energy about its
// peak: a ridge is bright on one side and dark on the other, and its middle lies
// between.
func middleOf(energy []float64) float64 {
	const reach = int(furthestShift / profileStep)
	mid := len(energy) / 2
	soft, kernel := make([]float64, 4*reach+1), middleKernel(reach)
	peak := 0.0
	for k := range soft {
		for j, w := range kernel {
			soft[k] += w * energy[mid-2*reach+k-reach+j]
		}
		if k >= reach && k <= 3*reach {
			peak = math.Max(peak, soft[k])
		}
	}
	var sum, weight float64
	for k, e := range soft {
		if v := e - peak/2; v > 0 {
			sum, weight = sum+v*float64(k-2*reach), weight+v
		}
	}
	if weight == 0 {
		return 0
	}
	return math.Min(math.Max(sum/weight, -float64(reach)), float64(reach))
}

// middleKernel is a Gaussian of half the reach.
func middleKernel(reach int) []float64 {
	out := make([]float64, 2*reach+1)
	for j := range out {
		d := float64(j - reach)
		out[j] = math.Exp(-d * d / float64(reach*reach/2))
	}
	return out
}

// addBody adds the squares of what makes the mark: of its colour, which is even
// about the middle, and of its height, which is the running sum of its shading,
// which is odd; over a scale, so that a slope there weighs as much as a tone.
func addBody(body, p []float64, sigma float64) {
	n, mid := len(p), len(p)/2
	height := 0.0
	for k := 0; k <= mid; k++ {
		even, odd := (p[k]+p[n-1-k])/2, (p[k]-p[n-1-k])/2
		if mid-k > 0 && float64(mid-k)*profileStep <= 4*sigma+1 {
			height += odd * profileStep / sigma
		}
		e := even*even + height*height
		body[k] += e
		if k != mid {
			body[n-1-k] += e
		}
	}
}

// widthOf is where the mark's square falls under a quarter of its peak (half in
// tone or height), outward from the middle.
func widthOf(body []float64) hide.MM {
	mid := len(body) / 2
	peak, at := 0.0, mid
	for k := mid - 2; k <= mid; k++ {
		if body[k] > peak {
			peak, at = body[k], k
		}
	}
	for at > 0 && body[at-1] > peak/4 {
		at--
	}
	return min(max(hide.MM(float64(2*(mid-at)+1)*profileStep), leastWidth), mostWidth)
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
