package pix_test

import (
	"image"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/pix"
)

func noiseRaster(n int, seed uint64) []float32 {
	r := rand.New(rand.NewPCG(seed, 1))
	v := make([]float32, n)
	for i := range v {
		v[i] = float32(r.NormFloat64())
	}
	return v
}

// Against OpenCV's sepFilter2D, kernel by kernel.
func TestFiltersAgreeWithOpenCV(t *testing.T) {
	for _, size := range [][2]int{{700, 150}, {33, 9}, {5, 300}, {1, 40}} {
		w, h := size[0], size[1]
		v := noiseRaster(w*h, 7)
		im := pix.New(w, h, pix.F32, 1)
		copy(im.Float32s(), v)
		kernels := [][]float64{pix.GaussianKernel(1.5, 0), pix.GaussianKernel(1.5, 1), pix.GaussianKernel(3, 2)}
		filters := []pix.Filter{{{2, 0}, {0, 2}}, {{1, 0}}, {{1, 1}}, {{0, 0}}}
		out := make([][]float32, len(filters))
		for i := range out {
			out[i] = make([]float32, len(v))
		}
		require.NoError(t, pix.Filters(out, v, w, kernels, filters, pix.Tiles(w, h)))
		for i, f := range filters {
			want := make([]float64, len(v))
			for _, p := range f {
				part, err := pix.Separable(im, kernels[p[0]], kernels[p[1]])
				require.NoError(t, err)
				for k, x := range part.Float32s() {
					want[k] += float64(x)
				}
				part.Close()
			}
			for k := range want {
				require.InDelta(t, want[k], float64(out[i][k]), 2e-6, "%v filter %d pixel %d", size, i, k)
			}
		}
		im.Close()
	}
}

// Only the parts are written, and what they hold does not depend on them.
func TestFiltersWriteTheirPartsOnly(t *testing.T) {
	const w, h = 300, 100
	v := noiseRaster(w*h, 3)
	whole, err := pix.Blurred(v, w, 2)
	require.NoError(t, err)
	part := make([]float32, len(v))
	p := image.Rect(37, 11, 290, 99)
	require.NoError(t, pix.Filters([][]float32{part}, v, w, [][]float64{pix.GaussianKernel(2, 0)}, []pix.Filter{{{0, 0}}}, []image.Rectangle{p}))
	for i, x := range part {
		if image.Pt(i%w, i/w).In(p) {
			require.InDelta(t, whole[i], x, 0)
		} else {
			require.Zero(t, x)
		}
	}
}

func TestFiltersFaults(t *testing.T) {
	v := make([]float32, 100)
	one := []pix.Filter{{{0, 0}}}
	require.Error(t, pix.Filters([][]float32{v}, v, 10, [][]float64{{1, 2}}, one, pix.Tiles(10, 10)))
	require.Error(t, pix.Filters([][]float32{v}, v, 10, [][]float64{{1, 2, 3}}, one, pix.Tiles(10, 10)))
	require.Error(t, pix.Filters([][]float32{v[:90]}, v, 10, [][]float64{{1}}, one, pix.Tiles(10, 10)))
	require.Error(t, pix.Filters([][]float32{v}, v, 10, [][]float64{{1}}, []pix.Filter{{{0, 1}}}, pix.Tiles(10, 10)))
	require.Error(t, pix.Filters([][]float32{v}, v, 10, [][]float64{{1}}, one, []image.Rectangle{image.Rect(0, 0, 11, 10)}))
	_, err := pix.Blurred(v, 10, 0)
	require.Error(t, err)
}

// Against the same sum in double precision, noise bilinear between the middles.
func TestAddRatios(t *testing.T) {
	const w, h, side = 50, 23, 9
	r, sum, in := noiseRaster(w*h, 5), make([]float32, w*h), make([]bool, w*h)
	noise := pix.Blocks{Values: make([]float32, 6*3), Side: side, Width: 6}
	for i := range noise.Values {
		noise.Values[i] = 1 + float32(i%5)/4
	}
	for i := range in {
		in[i] = i%7 != 0
	}
	require.NoError(t, pix.AddRatios(sum, r, in, w, noise))
	at := func(x, n int) (int, float64) {
		u := math.Min(math.Max((float64(x)+.5)/side-.5, 0), float64(n-1))
		return int(u), u - math.Floor(u)
	}
	for y := range h {
		for x := range w {
			i, f := at(x, 6)
			j, g := at(y, 3)
			v := func(i, j int) float64 { return float64(noise.Values[min(j, 2)*6+min(i, 5)]) }
			n := (v(i, j)*(1-f)+v(i+1, j)*f)*(1-g) + (v(i, j+1)*(1-f)+v(i+1, j+1)*f)*g
			want := math.Pow(float64(r[y*w+x])/n, 2)
			if !in[y*w+x] {
				want = 0
			}
			require.InDelta(t, want, float64(sum[y*w+x]), 1e-5*(1+want))
		}
	}
}
