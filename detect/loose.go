package detect

import (
	"math"

	"hidechart/hide"
	"hidechart/pix"
	"hidechart/plane"
)

// area is a soft-edged region with how far its middle stands out.
type area struct {
	shape hide.Polygon
	score float64
}

// Loose grain ripples with a wavelength of 3 to 12 mm when light rakes over it
// (common practice, no source). A difference of Gaussians of these deviations
// passes just that band: its response peaks at a wavelength of 2π·√(…) ≈ 7 mm.
const (
	rippleFine   = 0.9 // mm
	rippleCoarse = 2.4 // mm
)

// rippleWindow is half the side of the window within which rippleRank of the
// energies lie below the one compared. A scar or a scratch is steeper than any
// ripple, but with what its response spreads it fills under half of the window.
const (
	rippleWindow = 16 // mm
	rippleRank   = 0.4
)

// looseNeck is half the least width of a loose area; what is narrower is a line.
const looseNeck hide.MM = 12

// looseAreas finds where the ripple's energy rises above the hide's own, which
// is fitted by a smooth surface since grain coarsens from butt to belly.
func (s *surface) looseAreas(p Params) ([]area, error) {
	const k = 4 // energy varies slowly: compared on a raster four times coarser
	var energy, weight field
	for _, l := range s.lit {
		if l.light == hide.Back {
			continue
		}
		e, err := s.ripple(l)
		if err != nil {
			return nil, err
		}
		v, w := e.blocks(s.in, k)
		if weight.v == nil {
			energy, weight = newField(v.w, v.h), w
		}
		unit := float32(blockMedian(v, w))
		for i := range v.v {
			energy.v[i] += v.v[i] / max(w.v[i], 1) / max(unit, 1e-12)
		}
	}
	if weight.v == nil {
		return nil, nil
	}
	return s.risen(energy, weight, k, p)
}

func blockMedian(v, w field) float64 {
	var all []float64
	for i := range v.v {
		if w.v[i] > 0 {
			all = append(all, float64(v.v[i]/w.v[i]))
		}
	}
	return median(all)
}

func (s *surface) ripple(l litSurface) (field, error) {
	fine, err := l.tone.blurred(hide.PX(rippleFine / s.grid.MMPerPX))
	if err != nil {
		return fine, err
	}
	coarse, err := l.tone.blurred(hide.PX(rippleCoarse / s.grid.MMPerPX))
	if err != nil {
		return fine, err
	}
	// winsorised: a bright line is no ripple
	for i := range fine.v {
		fine.v[i] -= coarse.v[i]
	}
	limit := float32(4 * spread(sampleOf(s, fine.v)))
	for i, v := range fine.v {
		v = min(max(v, -limit), limit)
		fine.v[i] = v * v
	}
	return fine, nil
}

// risen cuts the smoothed log energy above its smooth trend.
func (s *surface) risen(energy, weight field, k int, p Params) ([]area, error) {
	g := s.grid.Scaled(s.grid.MMPerPX * hide.MM(k))
	in := make([]bool, len(weight.v))
	for i, w := range weight.v {
		in[i] = w > float32(k*k)/2
	}
	for i := range energy.v {
		energy.v[i] = float32(math.Log(float64(max(energy.v[i], 1e-6))))
	}
	typical := energy.localRank(in, hide.PX(rippleWindow/g.MMPerPX), rippleRank)
	mean, _, err := typical.localMean(in, hide.PX(rippleSmoothing/g.MMPerPX))
	if err != nil {
		return nil, err
	}
	unit, err := offTrend(mean, in, hide.PX(trendWindow/g.MMPerPX))
	if err != nil {
		return nil, err
	}
	s.risenBy = risenField{newField(mean.w, mean.h), g, float64(unit)}
	cut := newField(mean.w, mean.h)
	for i := range cut.v {
		cut.v[i], s.risenBy.v[i] = -1, -1
		if in[i] {
			s.risenBy.v[i] = mean.v[i] / unit
			cut.v[i] = mean.v[i]/unit - float32(p.LooseScore)
		}
	}
	found, err := areasAbove(cut, g, p.LooseMin, p.LooseScore)
	if err != nil {
		return nil, err
	}
	return wideParts(found, p.LooseMin)
}

// rippleSmoothing of the energies compared: a window of ranks leaves steps.
const rippleSmoothing = 6 // mm

// wideParts leaves of each area what a disc of radius looseNeck can sweep.
func wideParts(found []area, least hide.MM2) ([]area, error) {
	var out []area
	for _, a := range found {
		core, err := plane.Buffer(hide.Shape{a.shape}, -looseNeck)
		if err != nil {
			return nil, err
		}
		if len(core) == 0 {
			continue
		}
		wide, err := plane.Buffer(core, looseNeck)
		if err != nil {
			return nil, err
		}
		for _, p := range wide {
			if p.Area() >= least {
				out = append(out, area{shape: hide.Polygon{Outer: p.Outer}, score: a.score})
			}
		}
	}
	return out, nil
}

// trendWindow of the grain's own change from butt to belly: wide against a loose
// area, which is some 150 to 350 mm long.
const trendWindow = 150 // mm

// offTrend takes the trend off in place and returns the robust spread of what is
// left. The trend is the mean of values winsorised at two spreads from the
// median, so that a loose area does not raise it.
func offTrend(f field, in []bool, sigma hide.PX) (float32, error) {
	values := func() []float64 {
		var out []float64
		for i, ok := range in {
			if ok {
				out = append(out, float64(f.v[i]))
			}
		}
		return out
	}
	middle := float32(median(values()))
	for i := range f.v {
		f.v[i] -= middle
	}
	unit := float32(spread(values()))
	held := newField(f.w, f.h)
	for i, v := range f.v {
		held.v[i] = min(max(v, -2*unit), 2*unit)
	}
	trend, err := held.smoothMean(in, sigma)
	if err != nil {
		return 0, err
	}
	for i := range f.v {
		f.v[i] -= trend.v[i]
	}
	return max(float32(spread(values())), leastRippleSpread), nil
}

// leastRippleSpread of the log energy: a tenth, so that very even leather does
// not make every ripple a loose area.
const leastRippleSpread = 0.1

// areasAbove traces the parts where v is positive and at least min large; score
// is the highest value within, plus base.
func areasAbove(v field, g pix.Grid, least hide.MM2, base float64) ([]area, error) {
	curves, err := pix.IsolinesIn(v.v, v.w)
	if err != nil {
		return nil, err
	}
	var out []area
	for _, c := range curves {
		ring := tableRing(c, g)
		if ring.SignedArea() < least {
			continue
		}
		a := area{score: base}
		for _, i := range pixelsIn(ring, g) {
			a.score = math.Max(a.score, base+float64(v.v[i]))
		}
		if ring, err = halfHeight(v, ring, g, float32(a.score/2-base)); err != nil {
			return nil, err
		}
		a.shape = hide.Polygon{Outer: simplified(ring, g.MMPerPX/4)}
		out = append(out, a)
	}
	return out, nil
}

// halfHeight is the outline of a part where it falls to half its peak: what
// smoothing has spread ends there.
func halfHeight(v field, ring hide.Ring, g pix.Grid, level float32) (hide.Ring, error) {
	if level <= 0 {
		return ring, nil
	}
	box := g.Around(ring, g.MMPerPX)
	left, top := cornerOf(box, g)
	cut := newField(box.Width, box.Height)
	for i := range cut.v {
		cut.v[i] = -1
	}
	eachRun(ring, box, func(y, from, to int) {
		for x := from; x < to; x++ {
			cut.v[y*cut.w+x] = v.v[(top+y)*v.w+left+x] - level
		}
	})
	curves, err := pix.IsolinesIn(cut.v, cut.w)
	if err != nil {
		return nil, err
	}
	if inner := largestRing(curves, box); len(inner) > 3 {
		return inner, nil
	}
	return ring, nil
}
