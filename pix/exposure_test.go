package pix

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/hide"
)

// noisePhoto has codes of every value.
func noisePhoto(w, h int, d Depth, channels int) *Image {
	im, rnd := unset(w, h, d, channels), rand.New(rand.NewPCG(7, uint64(channels)))
	if d == U8 {
		for i := range im.Bytes() {
			im.Bytes()[i] = uint8(rnd.Uint32())
		}
		return im
	}
	for i := range im.Uint16s() {
		im.Uint16s()[i] = uint16(rnd.Uint32())
	}
	return im
}

// turned looks at a photograph turned and beyond its border, and in one row nowhere.
func turned(row int, xs, ys []float32) {
	for c := range xs {
		xs[c], ys[c] = float32(-9.3+0.8*float64(c)+0.31*float64(row)), float32(40.2-0.3*float64(c)+0.77*float64(row))
		switch row {
		case 5:
			xs[c] = float32(math.NaN())
		case 6:
			ys[c] = float32(math.Inf(-1))
		case 7:
			xs[c] = 1e30
		}
	}
}

// An exposure gives, value for value, what OpenCV 4.6 makes of the picture of light
// (cv::LUT or a table, then cv::remap with INTER_LINEAR), and the same luminance.
func TestExposureIsTheLight(t *testing.T) {
	for _, d := range []Depth{U8, U16} {
		for _, channels := range []int{1, 3} {
			sc := NewScope()
			im := noisePhoto(90, 70, d, channels)
			light, err := Linear(im)
			require.NoError(t, err)
			sc.Keep(light)
			photo, err := NewExposure(im)
			require.NoError(t, err)
			want, err := Remap(light, 130, 150, Bilinear, turned)
			require.NoError(t, err)
			got, err := photo.Remap(130, 150, turned)
			require.NoError(t, err)
			require.Equal(t, sc.Keep(want).Uint16s(), sc.Keep(got).Uint16s())
			require.Zero(t, got.Uint16s()[5*130*channels])
			grey, err := Grey(light)
			require.NoError(t, err)
			require.Equal(t, sc.Keep(grey).Uint16s(), sc.Keep(photo.Grey()).Uint16s())
			require.Equal(t, light.Uint16s()[(13*90+40)*channels+channels-1], photo.Light(40, 13, channels-1))
			photo.Close()
			sc.Close()
		}
	}
}

func TestExposureRefuses(t *testing.T) {
	for _, im := range []*Image{New(3, 3, F32, 1), New(3, 3, U8, 4)} {
		_, err := NewExposure(im)
		require.Equal(t, hide.Invalid, hide.KindOf(err))
	}
	photo, err := NewExposure(New(3, 3, U8, 3))
	require.NoError(t, err)
	defer photo.Close()
	_, err = photo.Remap(0, 3, turned)
	require.Equal(t, hide.Invalid, hide.KindOf(err))
}
