package pipeline

import (
	"slices"

	"hidechart/calibrate"
	"hidechart/detect"
	"hidechart/hide"
)

// Where a blurred photograph is read, in standard deviations of its blur. A
// Gaussian edge has given 99.9 % of its step three deviations off. The hide is
// first seen where the light leaves the table's by a few spreads, up to two
// deviations outside the edge: levels are read three more from there, and the band
// that may hold the edge reaches as far.
const (
	setbackBlurs = 5.0
	bandBlurs    = 6.0
)

// blurOf is the median blur of the tags' edges, a standard deviation in pixels of
// the photograph; 0 when none is known.
func blurOf(seen []calibrate.Sighting) hide.MM {
	var all []float64
	for _, s := range seen {
		if s.Blur > 0 {
			all = append(all, float64(s.Blur))
		}
	}
	if len(all) == 0 {
		return 0
	}
	slices.Sort(all)
	return hide.MM(all[len(all)/2])
}

// outlineParams are the outline's settings widened to what the photograph's blur
// asks for: levels read within the blur would be mixtures and move the edge.
func (m *measured) outlineParams() detect.OutlineParams {
	p := m.params.Outline
	p.LevelSetback = max(p.LevelSetback, setbackBlurs*m.blurMM)
	p.EdgeBand = max(p.EdgeBand, bandBlurs*m.blurMM)
	p.LevelWindow = max(p.LevelWindow, p.LevelSetback)
	return p
}
