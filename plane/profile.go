package plane

import (
	"math"
	"slices"

	"hidechart/hide"
)

// knots is the number of places along the backbone where the hide's extent is
// kept: every 1–1.5 cm.
const knots = 201

// halfProfile is one half of the hide in the hide frame, mm at each knot.
type halfProfile struct {
	reach [knots]float64 // distance from the backbone to the farthest contour
	body  [knots]float64 // the same with the legs taken off
	edge  [knots]float64 // smooth, never less than reach: where |v| is 1
	width float64        // median half-width of the trunk
	legs  []leg          // from head to tail
	hind  float64        // u at which the hind leg begins
}

// Windows along the backbone, in knots either side.
const (
	legHalf  = 22 // 22 % of the length in all: wider than a shank's root, narrower than a belly
	edgeHalf = 5  // the edge of v rises this far before a shank: 2.5 % of the length
)

// leastEdge keeps v finite where the hide runs out to a point, of the length.
const leastEdge = 0.02

// newHalf measures the half on which side·d is positive. The axis starts at
// u = 0; length is to u = 1.
func newHalf(a axis, length float64, r hide.Ring, side float64) *halfProfile {
	h := &halfProfile{}
	local := a.locals(r)
	step := length / (knots - 1)
	for i, p := range local {
		q := local[(i+1)%len(local)]
		if q.X < p.X {
			p, q = q, p
		}
		for k := max(0, int(math.Ceil(float64(p.X)/step))); k < knots && float64(k)*step <= float64(q.X); k++ {
			d := float64(p.Y)
			if q.X > p.X {
				d += float64(q.Y-p.Y) * (float64(k)*step - float64(p.X)) / float64(q.X-p.X)
			}
			h.reach[k] = max(h.reach[k], side*d)
		}
	}
	padded := make([]float64, knots+2*legHalf) // nothing beyond the ends
	copy(padded[legHalf:], h.reach[:])
	copy(h.body[:], running(running(padded, legHalf, math.Min), legHalf, math.Max)[legHalf:])
	wide := running(h.reach[:], edgeHalf, math.Max)
	for k := range knots {
		h.edge[k] = max(leastEdge*length, averageAt(wide, k, edgeHalf))
	}
	h.width, h.legs = bodyWidth(h), h.findLegs(length)
	h.hind = h.hindStart()
	return h
}

// running is the least or greatest of the values within half of each place.
func running(v []float64, half int, pick func(a, b float64) float64) []float64 {
	out := make([]float64, len(v))
	for i := range v {
		out[i] = v[i]
		for k := max(0, i-half); k <= min(len(v)-1, i+half); k++ {
			out[i] = pick(out[i], v[k])
		}
	}
	return out
}

// averageAt weighs by a triangle as wide as the running maximum, so that the
// average never falls below the value it covers. Places beyond the ends
// repeat the last.
func averageAt(v []float64, at, half int) float64 {
	var sum, weight float64
	for o := -half; o <= half; o++ {
		w := float64(half + 1 - abs(o))
		sum += w * v[min(len(v)-1, max(0, at+o))]
		weight += w
	}
	return sum / weight
}

func abs(i int) int { return max(i, -i) }

// sampleAt interpolates linearly between knots; u is clamped to 0..1.
func sampleAt(v *[knots]float64, u float64) float64 {
	x := min(1, max(0, u)) * (knots - 1)
	k := min(knots-2, int(x))
	return v[k] + (v[k+1]-v[k])*(x-float64(k))
}

// bodyWidth is the median half-width of the trunk, mm; at least 1 so that it
// divides.
func bodyWidth(h *halfProfile) float64 {
	v := slices.Clone(h.body[knots*35/100 : knots*65/100])
	slices.Sort(v)
	return max(1, v[len(v)/2])
}
