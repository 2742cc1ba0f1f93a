package detect

import (
	"hidechart/hide"
	"hidechart/pix"
)

// curveDeviation of the Gaussian under the second derivatives, in pixels of the
// level: lines and dots of 2 to 4 pixels answer most, the octave that the next level sees as
// its finest.
const curveDeviation hide.PX = 1.5

// curveLeast bounds a distance from below, in medians. Signed features lie about 0 where the
// leather is too smooth, in the middle of their Gaussian: that must not speak for
// sound leather against the energies, which see it.
const curveLeast = 1

// curvature are the second derivatives of lightness, xx, xy and yy, under a
// Gaussian (the Hessian that ridges and blobs are found by; Lindeberg 1998, IJCV 30(2)).
// Unlike the pooled energies they keep the sign and are not pooled: a dark dot
// or a line is odd where the grain is of bright cells. Empty where the weight is 0.
func (l ownLevel) curvature(weight float64) (vectors, error) {
	out := vectors{weight: weight, soft: true, least: curveLeast}
	if weight == 0 {
		return out, nil
	}
	im := l.planes[0].image()
	defer im.Close()
	var k [3][]float64
	for order := range k {
		k[order] = pix.GaussianKernel(curveDeviation, order)
	}
	for _, order := range [3][2]int{{2, 0}, {1, 1}, {0, 2}} {
		d, err := pix.Separable(im, k[order[0]], k[order[1]])
		if err != nil {
			return out, err
		}
		out.planes = append(out.planes, fieldOf(d))
		d.Close()
	}
	return out, nil
}
