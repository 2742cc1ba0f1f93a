package pix

import (
	"bytes"
	"image/jpeg"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hidechart/hide"
)

// colourRamp is a colour picture that rises slowly, so that JPEG keeps it within a few steps.
func colourRamp(width, height int) *Image {
	im := New(width, height, U8, 3)
	px := im.Bytes()
	for y := range height {
		for x := range width {
			k := 3 * (y*width + x)
			px[k], px[k+1], px[k+2] = uint8(40+x*60/width), uint8(80+y*60/height), uint8(120+x*60/width)
		}
	}
	return im
}

// What is written is read by Go's own decoder with the same colours, within the
// rounding of quality 92 on smooth ground (3 of 255).
func TestEncodeJPEGAgainstStandardLibrary(t *testing.T) {
	im := colourRamp(123, 77)
	defer im.Close()
	data, err := EncodeJPEG(im, 92)
	require.NoError(t, err)
	got, err := jpeg.Decode(bytes.NewReader(data))
	require.NoError(t, err)
	require.Equal(t, 123, got.Bounds().Dx())
	px := im.Bytes()
	for _, p := range [][2]int{{5, 5}, {60, 40}, {120, 70}} {
		r, g, b, _ := got.At(p[0], p[1]).RGBA()
		k := 3 * (p[1]*123 + p[0])
		assert.InDelta(t, px[k], b>>8, 3)
		assert.InDelta(t, px[k+1], g>>8, 3)
		assert.InDelta(t, px[k+2], r>>8, 3)
	}
	again, err := EncodeJPEG(im, 92)
	require.NoError(t, err)
	assert.Equal(t, data, again)
	grey := New(9, 9, U8, 1)
	defer grey.Close()
	_, err = EncodeJPEG(grey, 92)
	require.NoError(t, err)
}

// At an eighth the picture is the mean of 8 × 8 pixels, as the transform's first
// coefficient is (ITU-T T.81, A.3.3); sizes round up.
func TestDecodeReducedIsTheMean(t *testing.T) {
	im := colourRamp(200, 121)
	defer im.Close()
	data, err := EncodeJPEG(im, 95)
	require.NoError(t, err)
	small, err := DecodeReduced(data, DefaultLimits(), 8)
	require.NoError(t, err)
	defer small.Close()
	require.Equal(t, []int{25, 16}, []int{small.Width(), small.Height()})
	px, got := im.Bytes(), small.Bytes()
	for _, p := range [][2]int{{1, 1}, {12, 7}, {23, 13}} {
		for c := range 3 {
			sum := 0
			for y := range 8 {
				for x := range 8 {
					sum += int(px[3*((p[1]*8+y)*200+p[0]*8+x)+c])
				}
			}
			assert.InDelta(t, float64(sum)/64, got[3*(p[1]*25+p[0])+c], 3)
		}
	}
}

func TestJPEGRefuses(t *testing.T) {
	deep := New(4, 4, U16, 3)
	defer deep.Close()
	_, err := EncodeJPEG(deep, 90)
	require.ErrorIs(t, err, hide.Invalid)
	im := colourRamp(64, 64)
	defer im.Close()
	_, err = EncodeJPEG(im, 0)
	require.ErrorIs(t, err, hide.Invalid)
	data, err := EncodeJPEG(im, 90)
	require.NoError(t, err)
	_, err = DecodeReduced(data, DefaultLimits(), 3)
	require.ErrorIs(t, err, hide.Invalid)
	_, err = DecodeReduced(data[:len(data)/2], DefaultLimits(), 8)
	require.ErrorIs(t, err, hide.Unreadable)
	_, err = DecodeReduced(data, Limits{MaxPixels: 100}, 8)
	require.ErrorIs(t, err, hide.Unreadable)
	_, err = DecodeReduced([]byte("not a picture"), DefaultLimits(), 8)
	require.ErrorIs(t, err, hide.Unreadable)
}
