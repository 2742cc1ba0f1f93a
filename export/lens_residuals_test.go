package export_test

import (
	"bytes"
	"image/png"
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/export"
	"hidechart/hide"
	"hidechart/pix"
)

func someResiduals() export.LensResiduals {
	v := export.ViewResiduals{Name: "a_very_long_name_of_a_photograph_17.jpg", RMS: 0.2}
	for i := range 20 {
		v.Corners = append(v.Corners, pix.Point{X: hide.PX(30 * i), Y: hide.PX(20 * i)})
		v.Off = append(v.Off, pix.Point{X: 0.01 * hide.PX(i), Y: 3})
	}
	return export.LensResiduals{Width: 640, Height: 480, RMS: 0.2, Mean: 0.15, Views: []export.ViewResiduals{v}}
}

// The picture is a PNG, 250 mm wide at 8 px/mm, with blue on it, and the same
// bytes each time.
func TestLensResidualsPicture(t *testing.T) {
	var first, second bytes.Buffer
	require.NoError(t, export.WriteLensResiduals(&first, someResiduals()))
	require.NoError(t, export.WriteLensResiduals(&second, someResiduals()))
	require.Equal(t, first.Bytes(), second.Bytes())
	im, err := png.Decode(&first)
	require.NoError(t, err)
	require.Equal(t, 2000, im.Bounds().Dx())
	blue := 0
	for y := range im.Bounds().Dy() {
		for x := range im.Bounds().Dx() {
			if r, _, b, _ := im.At(x, y).RGBA(); b > r+0x4000 {
				blue++
			}
		}
	}
	require.Greater(t, blue, 1000)
}

func TestLensResidualsRefuses(t *testing.T) {
	err := export.WriteLensResiduals(&bytes.Buffer{}, export.LensResiduals{Width: 640, Height: 480})
	require.ErrorIs(t, err, hide.Invalid)
}
