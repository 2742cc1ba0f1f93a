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
	shoulder           float64
	rakeEven           float64
	relief             float64
	balance            float64
	common             float64
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
	set(x, fShoulder, m.shoulder)
	set(x, fRakeEven, m.rakeEven)
	set(x, fRelief, m.relief)
	set(x, fBalance, m.balance)
	set(x, fCommon, m.common)
	if !math.IsNaN(m.relief) {
		set(x, fReliefShare, reliefShare(m.relief, m.topTone))
	}
}

func newLooks() looks {
	no := math.NaN()
	return looks{topTone: no, topStep: no, rakeTone: no, rakeStep: no, backTone: no, hue: no, steady: no, shoulder: no, rakeEven: no, relief: no, balance: no, common: no}
}

func larger(a, b float64) float64 {
	if math.IsNaN(a) || math.Abs(b) > math.Abs(a) {
		return b
	}
	return a
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

// inner measures an area by its mean inside against a rim outside it.
func (s *surface) inner(shape hide.Shape) looks {
	m := newLooks()
	inside := s.pixels(shape)
	for _, l := range s.lit {
		tone, rough := s.meanAndRoughness(l.tone, inside)
		if l.wide.v != nil {
			tone, _ = s.meanAndRoughness(l.wide, inside)
		}
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
