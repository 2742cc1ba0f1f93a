package calibrate

import "math"

const (
	// The noise is the median of every third residual: enough of them for 2 %.
	noiseEvery = 3
	// Pixels this near the edge tell where it is, and fit less well than the level
	// beside it: no lens blurs by an error function to the last per cent, and a drawn page has
	// no noise but there. By the levels' noise alone those that tell most would be
	// outliers; by the larger of both, corners in rendered photographs blurred by 0.6 to
	// 0.8 px are off by 0.015 to 0.022 px RMS in place of 0.035 to 0.053, as much as is stated.
	onEdgePX = 1
	// Below 1e-4 of full scale a residual is rounding.
	leastNoise = 1e-4 * full16
	// An edge no wider than a pixel's square was drawn, not photographed, and where
	// each pixel is either black or white it may lie anywhere in that square: its
	// standard deviation is added to the fit's.
	drawnVar = blurLeastPX * blurLeastPX
)

// edgeResiduals holds residuals between the steps of a fit.
type edgeResiduals struct{ all, on []float64 }

// noise is the robust standard deviation of the pixels from the model: of all, or
// of those on the edge where it is larger there. ok is false when too few pixels
// are left.
func (r *edgeResiduals) noise(px []bandPixel, skip [edgeParts]bool, v [edgeLevelTerm]float64) (noise float64, ok bool) {
	r.all, r.on = r.all[:0], r.on[:0]
	for i, p := range px {
		on := math.Abs(p.d-v[0]-v[1]*p.s-v[2]*(p.s*p.s-1.0/3)) < onEdgePX
		counted := i%noiseEvery == 0
		if skip[part(p.s)] || !on && !counted {
			continue
		}
		off := math.Abs(p.v - edgeModel(&v, p).value)
		if on {
			r.on = append(r.on, off)
		}
		if counted {
			r.all = append(r.all, off)
		}
	}
	if len(r.all) < leastPixels/noiseEvery {
		return 0, false
	}
	return max(1.4826*median(r.all), 1.4826*median(r.on), leastNoise), true
}
