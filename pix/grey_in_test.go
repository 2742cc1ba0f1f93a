package pix_test

import (
	"image"
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/pix"
)

// Grey in the boxes, clipped to the picture, and 0 elsewhere.
func TestGreyIn(t *testing.T) {
	im := pix.New(40, 30, pix.U16, 3)
	for i := range im.Uint16s() {
		im.Uint16s()[i] = uint16(1 + i*31)
	}
	photo, err := pix.NewExposure(im)
	require.NoError(t, err)
	defer photo.Close()
	whole := photo.Grey()
	defer whole.Close()
	box := image.Rect(30, -5, 60, 7)
	part := photo.GreyIn([]image.Rectangle{box, image.Rect(50, 50, 60, 60)})
	defer part.Close()
	for i, v := range part.Uint16s() {
		if image.Pt(i%40, i/40).In(box) {
			require.Equal(t, whole.Uint16s()[i], v)
		} else {
			require.Zero(t, v)
		}
	}
}
