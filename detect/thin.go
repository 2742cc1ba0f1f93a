package detect

import (
	"hidechart/hide"
)

// thinWindow smooths back light before it is cut: thin spots are no smaller,
// and the light through leather is dim, so noisy.
const thinWindow = 2 // mm

// thinSpots finds where more light comes through than beside: back light's tone
// smoothed, against its own noise.
func (s *surface) thinSpots(p Params) ([]area, error) {
	for _, l := range s.lit {
		if l.light != hide.Back {
			continue
		}
		soft, err := l.wide.blurred(hide.PX(thinWindow / s.grid.MMPerPX))
		if err != nil {
			return nil, err
		}
		z, err := s.scores(soft)
		if err != nil {
			return nil, err
		}
		for i := range z.v {
			z.v[i] -= float32(p.ThinScore)
		}
		return areasAbove(z, s.grid, p.ThinMin, p.ThinScore)
	}
	return nil, nil
}
