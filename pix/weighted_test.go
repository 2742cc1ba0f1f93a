package pix

import (
	"image"
	"testing"

	"github.com/stretchr/testify/require"
)

// Two pictures with shares that sum to 1 give the picture back to the rounding;
// what lies outside is left out.
func TestAddWeighted(t *testing.T) {
	src, dst := New(10, 6, U16, 2), New(12, 8, U16, 2)
	w, rest := New(4, 3, F32, 2), New(4, 3, F32, 2)
	for _, im := range []*Image{src, dst, w, rest} {
		defer im.Close()
	}
	for i := range src.Uint16s() {
		src.Uint16s()[i] = uint16(1000 * i)
	}
	for i := range w.Float32s() {
		w.Float32s()[i] = float32(i) / 24
		rest.Float32s()[i] = 1 - float32(i)/24
	}
	at := image.Pt(4, 1)
	require.NoError(t, AddWeighted(dst, src, at, w, 5))
	require.NoError(t, AddWeighted(dst, src, at, rest, 5))
	for y := range 6 {
		for x := range 8 {
			for c := range 2 {
				require.InDelta(t, float64(src.Uint16s()[(y*10+x)*2+c]), float64(dst.Uint16s()[((y+1)*12+x+4)*2+c]), 1)
			}
		}
	}
	require.Zero(t, dst.Uint16s()[0])
	require.Error(t, AddWeighted(dst, src, at, w, 2), "too few nodes")
}
