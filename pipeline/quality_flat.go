package pipeline

import (
	"fmt"
	"strings"

	"hidechart/calibrate"
	"hidechart/detect"
	"hidechart/hide"
)

// mostWave is the height of waves, mm, above which a hide counts as not flat. 4: the highest that
// clean renders show is 3.5 (table in docs/rig.md), the lowest that a wave of 10 mm shows is 4.1.
// Waves of 10 mm on 300 mm take (π·10/300)²/4 = 0.3 % off the area that they
// cover (arc of a sine against its chord).
const mostWave = 4.0

// lieFlags are the doubts about how the hide lies.
func lieFlags(fine detect.Photos, outline hide.Polygon, rig calibrate.Rig) []hide.Flag {
	lie, ok := detect.Lying(fine, outline, [2]hide.MM{rig.Width, rig.Height})
	if !ok || lie.Height <= mostWave {
		return nil
	}
	names := make([]string, len(lie.Lights))
	for i, l := range lie.Lights {
		names[i] = string(l)
	}
	return []hide.Flag{{Code: "not_flat", Value: float64(lie.Height), Unit: "mm",
		Text: fmt.Sprintf("not flat: waves about %.0f mm high and %.0f° steep, the highest at (%.0f, %.0f) mm, take about %.1f %% off the area (%s): smooth the hide and photograph again",
			float64(lie.Height), lie.Steepest, float64(lie.At.X), float64(lie.At.Y), 100*lie.Shrink, strings.Join(names, " and "))}}
}
