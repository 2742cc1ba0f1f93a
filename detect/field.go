package detect

import (
	"math"
	"slices"

	"hidechart/hide"
	"hidechart/pix"
)

// field is a raster of float32 values in Go memory, row by row.
type field struct {
	w, h int
	v    []float32
}

func newField(w, h int) field { return field{w, h, make([]float32, w*h)} }

// image copies the field into a picture; the caller closes it.
func (f field) image() *pix.Image {
	im := pix.New(f.w, f.h, pix.F32, 1)
	copy(im.Float32s(), f.v)
	return im
}

func fieldOf(im *pix.Image) field {
	return field{im.Width(), im.Height(), slices.Clone(im.Float32s())}
}

// blurred is the field under a Gaussian.
func (f field) blurred(sigma hide.PX) (field, error) {
	v, err := pix.Blurred(f.v, f.w, sigma)
	return field{f.w, f.h, v}, err
}

// localMean is the Gaussian mean of the values where in is true, and the share
// of the window that was true (normalised convolution, Knutsson & Westin 1993).
// Where the share is under 1e-4 the mean is 0.
func (f field) localMean(in []bool, sigma hide.PX) (mean, share field, err error) {
	w, err := newMeanWindow(in, f.w, sigma)
	if err != nil {
		return mean, share, err
	}
	mean, err = w.mean(f)
	return mean, w.share, err
}

// meanWindow is a Gaussian one over the pixels where in is true, for the means of
// several fields.
type meanWindow struct {
	in    []bool
	sigma hide.PX
	share field // of the window that is true; 0 where it is under 1e-4
}

func newMeanWindow(in []bool, width int, sigma hide.PX) (meanWindow, error) {
	weight := newField(width, len(in)/width)
	for i, ok := range in {
		if ok {
			weight.v[i] = 1
		}
	}
	share, err := weight.blurred(sigma)
	for i, v := range share.v {
		if v < 1e-4 {
			share.v[i] = 0
		}
	}
	return meanWindow{in, sigma, share}, err
}

func (w meanWindow) mean(f field) (field, error) {
	value := newField(f.w, f.h)
	for i, ok := range w.in {
		if ok {
			value.v[i] = f.v[i]
		}
	}
	mean, err := value.blurred(w.sigma)
	if err != nil {
		return field{}, err
	}
	rows(f.h, func(y int) {
		for i := y * f.w; i < (y+1)*f.w; i++ {
			if share := w.share.v[i]; share == 0 {
				mean.v[i] = 0
			} else {
				mean.v[i] /= share
			}
		}
	})
	return mean, nil
}

// median returns the middle value; it reorders v. Empty gives NaN.
func median(v []float64) float64 { return quantile(v, 0.5) }

// quantile reorders v and returns the value at share q (nearest rank).
func quantile(v []float64, q float64) float64 {
	if len(v) == 0 {
		return math.NaN()
	}
	k := min(len(v)-1, int(q*float64(len(v))))
	pix.SelectRank(v, k)
	return v[k]
}

// spread is the robust standard deviation about zero: 1.4826 × median |v|
// (exact for a normal distribution; Rousseeuw & Croux 1993).
func spread(v []float64) float64 {
	a := make([]float64, len(v))
	for i, x := range v {
		a[i] = math.Abs(x)
	}
	return 1.4826 * median(a)
}
