package pix

import (
	"math"
	"runtime"
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/hide"
)

func ramp(t *testing.T, w, h int) *Image {
	t.Helper()
	im := New(w, h, U16, 1)
	t.Cleanup(im.Close)
	v := im.Uint16s()
	for y := range h {
		for x := range w {
			v[y*w+x] = uint16(1000 + 200*x + 70*y)
		}
	}
	return im
}

// A plane is read exactly at any position, but for OpenCV's rounding of the
// position to 1/32 px: 1/64 px of slope 200 and 70. The cubic kernel with
// a = -0.75 (Keys 1981 shows that only -0.5 keeps a ramp) is off by up to
// 2·|a+0.5|·t(1-t)(1-2t) = 0.048 px more.
func TestRemapReadsAPlane(t *testing.T) {
	src := ramp(t, 200, 300)
	at := func(row int, xs, ys []float32) {
		for c := range xs {
			xs[c], ys[c] = float32(20.3+0.7*float64(c)+0.1*float64(row)), float32(10.7+0.6*float64(row)+0.2*float64(c))
		}
	}
	for interp, ripple := range map[Interp]float64{Bilinear: 0, Cubic: 0.0482} {
		out, err := Remap(src, 150, 333, interp, at)
		require.NoError(t, err)
		var worst float64
		for y := range 333 {
			for x := range 150 {
				sx, sy := 20.3+0.7*float64(x)+0.1*float64(y), 10.7+0.6*float64(y)+0.2*float64(x)
				want := 1000 + 200*sx + 70*sy
				if sx > 197 || sy > 297 {
					continue
				}
				worst = max(worst, math.Abs(want-float64(out.Uint16s()[y*150+x])))
			}
		}
		out.Close()
		require.LessOrEqual(t, worst, 270*(1.0/64+ripple)+1)
	}
}

func TestRemapSameOnAnyCores(t *testing.T) {
	src := ramp(t, 300, 300)
	at := func(row int, xs, ys []float32) {
		for c := range xs {
			xs[c] = float32(float64(c) + 9*math.Sin(float64(row)/20))
			ys[c] = float32(float64(row) + 7*math.Cos(float64(c)/30))
		}
	}
	run := func(cores int) []uint16 {
		defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(cores))
		out, err := Remap(src, 300, 300, Cubic, at)
		require.NoError(t, err)
		defer out.Close()
		return append([]uint16{}, out.Uint16s()...)
	}
	require.Equal(t, run(1), run(2))
}

func TestRemapRefuses(t *testing.T) {
	src := ramp(t, 10, 10)
	at := func(int, []float32, []float32) {}
	_, err := Remap(src, 0, 5, Bilinear, at)
	require.ErrorIs(t, err, hide.Invalid)
	_, err = Remap(src, 5, 5, Interp(9), at)
	require.ErrorIs(t, err, hide.Invalid)
	long := New(40000, 2, U8, 1)
	defer long.Close()
	_, err = Remap(long, 5, 5, Bilinear, at)
	require.ErrorIs(t, err, hide.Invalid)
}
