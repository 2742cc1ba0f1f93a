package pix

import (
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/hide"
)

// A field that is a plane between its middles divides a picture that is the same
// plane to a constant.
func TestDivideByAPlane(t *testing.T) {
	const cellPX, n = 10, 8
	field := New(n, 5, F32, 1)
	defer field.Close()
	for i := range field.Float32s() {
		field.Float32s()[i] = 1 + 0.05*float32(i%n) - 0.03*float32(i/n)
	}
	im := New(n*cellPX-3, 5*cellPX-7, U16, 3) // the last cells are cut
	defer im.Close()
	at := func(x, y int) float64 {
		return 1 + 0.05*((float64(x)+0.5)/cellPX-0.5) - 0.03*((float64(y)+0.5)/cellPX-0.5)
	}
	for i := range im.Uint16s() {
		p := i / 3
		im.Uint16s()[i] = uint16(20000*at(p%im.Width(), p/im.Width()) + 0.5)
	}
	out, err := Divide(im, field, cellPX)
	require.NoError(t, err)
	defer out.Close()
	for y := range im.Height() {
		for x := range im.Width() {
			require.InDelta(t, 20000, float64(out.Uint16s()[3*(y*im.Width()+x)]), 1.5)
		}
	}
	want, err := EightBit(out)
	require.NoError(t, err)
	defer want.Close()
	got, err := DivideForEye(im, field, cellPX)
	require.NoError(t, err)
	defer got.Close()
	require.Equal(t, want.Bytes(), got.Bytes())
	_, err = DivideForEye(im, im, cellPX)
	require.ErrorIs(t, err, hide.Invalid)
	_, err = Divide(im, im, cellPX)
	require.ErrorIs(t, err, hide.Invalid)
	_, err = Divide(im, field, 0)
	require.ErrorIs(t, err, hide.Invalid)
}
