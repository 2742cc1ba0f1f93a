package pix_test

import (
	"bytes"
	"image"
	"image/color"
	"image/png"
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/hide"
	"hidechart/pix"
)

// Read back by the standard library, pixel by pixel, which also checks each part's sum and the whole's.
func TestEncodePNGIsReadByImagePNG(t *testing.T) {
	for _, size := range []image.Point{{37, 23}, {1, 1}, {37, 128}, {9, 129}, {300, 500}} {
		im := image.NewRGBA(image.Rectangle{Max: size})
		for y := range size.Y {
			for x := range size.X {
				im.SetRGBA(x, y, color.RGBA{uint8(x * 7), uint8(y * 11), uint8(x * y), 255})
			}
		}
		data, err := pix.EncodePNG(im)
		require.NoError(t, err)
		back, err := png.Decode(bytes.NewReader(data))
		require.NoError(t, err)
		require.Equal(t, im.Bounds(), back.Bounds())
		for y := range size.Y {
			for x := range size.X {
				require.Equal(t, im.At(x, y), color.RGBAModel.Convert(back.At(x, y)))
			}
		}
		again, err := pix.EncodePNG(im)
		require.NoError(t, err)
		require.Equal(t, data, again)
	}
}

func TestEncodePNGRefuses(t *testing.T) {
	_, err := pix.EncodePNG(image.NewRGBA(image.Rectangle{}))
	require.ErrorIs(t, err, hide.Invalid)
	part, ok := image.NewRGBA(image.Rect(0, 0, 9, 9)).SubImage(image.Rect(1, 1, 5, 5)).(*image.RGBA)
	require.True(t, ok)
	_, err = pix.EncodePNG(part)
	require.ErrorIs(t, err, hide.Invalid)
}
