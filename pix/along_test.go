package pix_test

import (
	"image"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hidechart/pix"
)

// TestStretchSum compares with the sum written out, at tiles that touch every
// border and for steps to both sides.
func TestStretchSum(t *testing.T) {
	const w, h = 53, 41
	r := rand.New(rand.NewPCG(1, 2))
	v := pix.Weighted{Weights: [3]float32{0.5, -2, 3}}
	for k := range v.Rasters {
		v.Rasters[k] = make([]float32, w*h)
		for i := range v.Rasters[k] {
			v.Rasters[k][i] = r.Float32() - 0.5
		}
	}
	for _, steps := range [][]image.Point{{{X: 1}, {X: 2}, {X: 4}}, {{X: -1}, {X: -2, Y: 1}, {X: -4, Y: 2}}, {{Y: 1}, {X: 1, Y: 2}, {X: 1, Y: 4}}} {
		s := pix.Stretch{Steps: steps, First: 2}
		first, last := make([]pix.Short, w*h), make([]pix.Short, w*h)
		for _, tile := range []image.Rectangle{image.Rect(0, 0, 20, 30), image.Rect(20, 0, w, 30), image.Rect(0, 30, 20, h), image.Rect(20, 30, w, h)} {
			require.NoError(t, s.Sum(first, last, v, w, tile, make([]float32, s.Room(tile.Size()))))
		}
		for i := range last {
			at := image.Pt(i%w, i/w)
			bfloat16(t, written(v, w, h, at, steps[:2]), first[i])
			bfloat16(t, written(v, w, h, at, steps), last[i])
		}
	}
}

// bfloat16 holds eight bits (Wang & Kanwar 2019, "BFloat16: the secret to high performance on Cloud TPUs", from
// memory): rounded to the nearest, it is off by a 256th part of a half at most.
func bfloat16(t *testing.T, want float64, got pix.Short) {
	t.Helper()
	assert.InDelta(t, want, got.Float32(), math.Abs(want)/256+1e-4)
}

// written is the sum over all choices of steps, by its definition.
func written(v pix.Weighted, w, h int, at image.Point, steps []image.Point) float64 {
	if len(steps) == 0 {
		if !at.In(image.Rect(0, 0, w, h)) {
			return 0
		}
		var sum float64
		for k, r := range v.Rasters {
			sum += float64(v.Weights[k]) * float64(r[at.Y*w+at.X])
		}
		return sum
	}
	return written(v, w, h, at, steps[1:]) + written(v, w, h, at.Add(steps[0]), steps[1:])
}

func TestKeepSquares(t *testing.T) {
	const w, h, side = 23, 17, 4
	r, in := make([]pix.Short, w*h), make([]bool, w*h)
	for i := range r {
		r[i], in[i] = pix.Short(math.Float32bits(float32(i%7))>>16), i%3 > 0
	}
	scale := pix.Blocks{Side: side, Width: (w + side - 1) / side}
	for i := range scale.Width * ((h + side - 1) / side) {
		scale.Values = append(scale.Values, float32(1+i))
	}
	for _, shift := range []image.Point{{}, {X: 3, Y: 2}, {X: -5, Y: 1}} {
		best, name := make([]float32, w*h), make([]uint8, w*h)
		tile := image.Rect(2, 1, w, h-1)
		require.NoError(t, pix.KeepSquares(best, name, in, 9, w, tile, shift, [][]pix.Short{r, r}, []pix.Blocks{scale, scale}))
		for i := range best {
			at := image.Pt(i%w, i/w)
			from := at.Sub(shift)
			var want float32
			if at.In(tile) && in[i] && from.In(image.Rect(0, 0, w, h)) {
				v := r[from.Y*w+from.X].Float32()
				want = 2 * v * v * scale.Values[from.Y/side*scale.Width+from.X/side]
			}
			assert.InDelta(t, want, best[i], 0, "%v moved by %v", at, shift)
			assert.Equal(t, want > 0, name[i] == 9)
		}
	}
	best, whole, one := make([]float32, w*h), image.Rect(0, 0, w, h), []pix.Blocks{scale}
	require.Error(t, pix.KeepSquares(best, make([]uint8, w*h), in, 1, w, whole, image.Point{}, [][]pix.Short{r[:w]}, one))
	require.Error(t, pix.KeepSquares(best, nil, in, 1, w, whole, image.Point{}, [][]pix.Short{r}, one))
	require.Error(t, pix.KeepSquares(best, make([]uint8, w*h), in, 1, w, image.Rect(0, 0, w, h+1), image.Point{}, [][]pix.Short{r}, one))
	require.Error(t, pix.KeepSquares(best, make([]uint8, w*h), in, 1, w, whole, image.Point{}, [][]pix.Short{r}, nil))
}

// Against the sum written out.
func TestAddBlockSquares(t *testing.T) {
	const w, h, side, every = 23, 17, 6, 3
	r, in := noiseRaster(w*h, 4), make([]bool, w*h)
	for i := range in {
		in[i] = i%5 != 0
	}
	got := pix.Blocks{Values: make([]float32, 4*3), Side: side, Width: 4}
	want := make([]float64, len(got.Values))
	for y := 0; y < h; y += every {
		for x := 0; x < w; x += every {
			if v := min(max(float64(r[y*w+x]), -1.5), 1.5); in[y*w+x] {
				want[y/side*4+x/side] += v * v
			}
		}
	}
	require.NoError(t, pix.AddBlockSquares(got, r, in, w, every, 1.5))
	for i := range want {
		assert.InDelta(t, want[i], float64(got.Values[i]), 1e-5)
	}
	require.Error(t, pix.AddBlockSquares(got, r, in, w, 4, 1))
	require.Error(t, pix.AddBlockSquares(got, r, in[1:], w, every, 1))
}
