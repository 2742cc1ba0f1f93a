package pix_test

import (
	"image"
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/pix"
)

// Grey of a part, clipped to the photograph; nothing beyond it.
func TestGreyPart(t *testing.T) {
	im := pix.New(40, 30, pix.U16, 3)
	for i := range im.Uint16s() {
		im.Uint16s()[i] = uint16(1 + i*31)
	}
	photo, err := pix.NewExposure(im)
	require.NoError(t, err)
	defer photo.Close()
	whole := photo.Grey()
	defer whole.Close()
	part, at := photo.GreyPart(image.Rect(30, -5, 60, 7))
	defer part.Close()
	require.Equal(t, image.Pt(30, 0), at)
	require.Equal(t, image.Rect(0, 0, 10, 7), part.Bounds())
	for i, v := range part.Uint16s() {
		require.Equal(t, whole.Uint16s()[(i/10)*40+30+i%10], v)
	}
	none, _ := photo.GreyPart(image.Rect(50, 50, 60, 60))
	require.Nil(t, none)
}
