package detect

import (
	"cmp"
	"slices"

	"hidechart/hide"
)

// thinWindow smooths back light before it is cut: the light through leather is
// dim, so noisy, and a thin spot shows best under a window of its own width.
type thinWindow struct {
	deviation hide.MM
	pixels    int // work pixels per pixel of the raster it is sought on
}

// thinWindows suit spots some 5, 15 and 40 mm wide; the narrowest first. A Gaussian
// is still sampled well at a third of its deviation.
func thinWindows() []thinWindow { return []thinWindow{{2, 1}, {5, 4}, {12, 4}} }

// thinSpots finds where more light comes through than beside: back light's tone
// smoothed, against its own noise.
func (s *surface) thinSpots(p Params) ([]area, error) {
	for _, l := range s.lit {
		if l.light != hide.Back {
			continue
		}
		var all []area
		for _, w := range thinWindows() {
			found, err := s.thinUnder(w, l.wide, p)
			if err != nil {
				return nil, err
			}
			all = append(all, found...)
		}
		return plainest(all), nil
	}
	return nil, nil
}

// thinUnder is thinSpots under one window.
func (s *surface) thinUnder(w thinWindow, back field, p Params) ([]area, error) {
	seen := s
	if w.pixels > 1 {
		seen = &surface{grid: s.grid.Scaled(s.grid.MMPerPX * hide.MM(w.pixels))}
		back, seen.in = back.blockMeansIn(s.in, w.pixels)
	}
	soft, err := back.blurred(hide.PX(w.deviation / seen.grid.MMPerPX))
	if err != nil {
		return nil, err
	}
	z, err := seen.scores(soft)
	if err != nil {
		return nil, err
	}
	for i := range z.v {
		z.v[i] -= float32(p.ThinScore)
	}
	return areasAbove(z, seen.grid, p.ThinMin, p.ThinScore)
}

// plainest keeps, of areas whose boxes overlap, the one with the highest score: the one
// that was found under the window nearest to its own width.
func plainest(all []area) []area {
	slices.SortStableFunc(all, func(a, b area) int { return cmp.Compare(b.score, a.score) })
	var out []area
	var taken []box
	for _, a := range all {
		b := boxOf(hide.Shape{a.shape})
		if slices.ContainsFunc(taken, b.overlaps) {
			continue
		}
		out, taken = append(out, a), append(taken, b)
	}
	return out
}
