package detect

import (
	"math"
	"slices"

	"hidechart/hide"
)

// Relief is told from colour by top and the raking lights together. On a matt surface
// (Lambert) a slope s changes the light of a lamp from direction d by about
// s·d, whatever the colour, and top, which comes from all sides, hardly at all; colour
// changes all lights alike. The slope is therefore that of a straight line through the
// tones over the directions, and colour its intercept (photometric stereo, Woodham
// 1980, for small slopes): directions are taken from their mean, and what all lights
// share drops out, even where the mark lies beside the line that was followed.

// towards is the direction that a raking light comes from, on the table.
func towards(l hide.Light) (x, y float64) {
	dx, dy := raking(l)
	return float64(dx), float64(-dy)
}

// facing is a light with its direction from the mean of them all.
type facing struct {
	tone field
	x, y float64
}

// facings are top and the raking lights; none without a raking light.
func (s *surface) facings() []facing {
	var out []facing
	var x, y float64
	raked := false
	for _, l := range s.lit {
		if l.light == hide.Back {
			continue
		}
		lx, ly := l.from.sign*l.from.x, l.from.sign*l.from.y
		out = append(out, facing{l.tone, lx, ly})
		x, y, raked = x+lx, y+ly, raked || l.light.Rake()
	}
	if !raked {
		return nil
	}
	for k := range out {
		out[k].x -= x / float64(len(out))
		out[k].y -= y / float64(len(out))
	}
	return out
}

// leastAcross of the squared directions: a line that runs at every lamp shows
// them no slope.
const leastAcross = 0.1

// reliefAcross is the slope across a line at each distance to its side, made
// odd: a ridge falls off to both sides (+ on the left is raised), a furrow
// rises, colour does neither. nil without raking lights.
func (s *surface) reliefAcross(line []hide.Point) []float64 {
	sum, weight := make([]float64, profileSize()), make([]float64, profileSize())
	for _, l := range s.facings() {
		s.alongside(l.tone, line, func(j int, nx, ny, length, v float64) {
			w := nx*l.x + ny*l.y
			sum[j] += length * w * v
			weight[j] += length * w * w
		})
	}
	var total float64
	for k := 1; k < len(line); k++ {
		total += float64(line[k].Distance(line[k-1]))
	}
	if slices.Max(weight) == 0 || total == 0 {
		return nil
	}
	for j := range sum {
		sum[j] /= math.Max(weight[j], leastAcross*total)
	}
	for j, n := 0, len(sum); j <= n/2; j++ {
		odd := (sum[n-1-j] - sum[j]) / 2
		sum[j], sum[n-1-j] = -odd, odd
	}
	return sum
}

// reliefOf a line is the strongest slope beside its middle, within three of its
// scales: positive for a ridge, negative for a furrow; NaN without raking lights.
func (s *surface) reliefOf(line []hide.Point, sigma hide.MM) float64 {
	p := s.reliefAcross(line)
	if p == nil {
		return math.NaN()
	}
	mid := len(p) / 2
	best := 0.0
	for k := 1; k <= min(mid, max(2, int(3*float64(sigma)/profileStep))); k++ {
		if math.Abs(p[mid+k]) > math.Abs(best) {
			best = p[mid+k]
		}
	}
	return best
}

// reliefOfSpot is the mean tone of the halves that face the lights less that of the far
// halves, halved: positive if raised; NaN without raking light.
func (s *surface) reliefOfSpot(q spot) float64 {
	var moment, weight float64
	reach := 1.5 * float64(q.radius) // its rim too
	for _, l := range s.facings() {
		for y := -reach; y <= reach; y += profileStep {
			for x := -reach; x <= reach; x += profileStep {
				along := x*l.x + y*l.y
				v, ok := s.sample(l.tone, hide.Point{X: q.at.X + hide.MM(x), Y: q.at.Y + hide.MM(y)})
				if ok && x*x+y*y <= reach*reach {
					moment, weight = moment+along*v, weight+math.Abs(along)
				}
			}
		}
	}
	if weight == 0 {
		return math.NaN()
	}
	return moment / weight
}

// reliefOfSpots is the mean of a cluster's.
func (s *surface) reliefOfSpots(all []spot) float64 {
	var sum float64
	for _, q := range all {
		sum += s.reliefOfSpot(q)
	}
	return sum / float64(len(all))
}

// reliefShare is how much of a mark is relief and how much colour, 0 to 1.
func reliefShare(relief, tone float64) float64 {
	return math.Abs(relief) / math.Max(math.Abs(relief)+math.Abs(tone), 1e-6)
}
