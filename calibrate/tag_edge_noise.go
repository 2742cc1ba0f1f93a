package calibrate

import "math"

const (
	// The noise is the median of every third residual: enough of them for 2 %.
	noiseEvery = 3
	// Pixels this near the edge tell where it is. Where half of them would be
	// outliers by the levels' noise, the noise is theirs: a drawn page has none
	// elsewhere, a denoised photograph hardly any, and nothing would be left to say
	// where the edge lies.
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
		m, _ := edgeModel(v, p)
		off := math.Abs(p.v - m)
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
	noise = max(1.4826*median(r.all), leastNoise)
	if edge := median(r.on); edge > tukeyReach*noise {
		noise = 1.4826 * edge
	}
	return noise, true
}
