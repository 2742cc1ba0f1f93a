package pix_test

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/hide"
	"hidechart/pix"
)

// field samples f at pixel centres.
func field(t *testing.T, w, h int, f func(x, y float64) float64) *pix.Image {
	t.Helper()
	im := pix.New(w, h, pix.F32, 1)
	t.Cleanup(im.Close)
	v := im.Float32s()
	for y := range h {
		for x := range w {
			v[y*w+x] = float32(f(float64(x), float64(y)))
		}
	}
	return im
}

func ringOf(g pix.Grid, c []pix.Point) hide.Ring {
	r := make(hide.Ring, len(c))
	for i, p := range c {
		r[i] = g.ToTable(p)
	}
	return r
}

// The area of a traced disc against πr², and of a ring's hole: the polygon's
// chords cut at most r·(1−cos(1/2r)) off, 0.13 px² here.
func TestIsolinesDiscAndRing(t *testing.T) {
	const r, hole = 40.3, 11.7
	im := field(t, 101, 97, func(x, y float64) float64 {
		d := math.Hypot(x-50.2, y-47.9)
		return math.Min(r-d, d-hole)
	})
	curves, err := pix.Isolines(im)
	require.NoError(t, err)
	require.Len(t, curves, 2)
	g := pix.TableGrid(101, 97, 1)
	areas := []float64{float64(ringOf(g, curves[0]).SignedArea()), float64(ringOf(g, curves[1]).SignedArea())}
	slices.Sort(areas)
	require.InDelta(t, -math.Pi*hole*hole, areas[0], 1)
	require.InDelta(t, math.Pi*r*r, areas[1], 1)
}

// A field that is inside everywhere is closed along the picture's border.
func TestIsolinesWholePicture(t *testing.T) {
	im := field(t, 10, 6, func(x, y float64) float64 { return 1 })
	curves, err := pix.Isolines(im)
	require.NoError(t, err)
	require.Len(t, curves, 1)
	require.InDelta(t, 60, float64(ringOf(pix.TableGrid(10, 6, 1), curves[0]).SignedArea()), 0.6) // four cut corners of 1/8 px²
}

// Random fields: every curve closes, and the signed areas add up to the
// covered area of the bilinear field, estimated by fine sampling.
func TestIsolinesSaddles(t *testing.T) {
	im := field(t, 24, 24, func(x, y float64) float64 {
		if min(x, y, 23-x, 23-y) < 1 {
			return -1
		}
		return math.Sin(x*2.1+0.3)*math.Cos(y*1.7) + 0.2*math.Sin(x*y)
	})
	curves, err := pix.Isolines(im)
	require.NoError(t, err)
	var area float64
	for _, c := range curves {
		require.GreaterOrEqual(t, len(c), 3)
		area += float64(ringOf(pix.TableGrid(24, 24, 1), c).SignedArea())
	}
	require.InDelta(t, float64(coveredBilinear(im.Float32s(), 24)), area, 12) // chords against hyperbolas
}

func coveredBilinear(v []float32, w int) float64 {
	const n = 10
	var inside int
	for y := range (w - 1) * n {
		for x := range (w - 1) * n {
			px, py := x/n, y/n
			fx, fy := (float64(x%n)+0.5)/n, (float64(y%n)+0.5)/n
			a := float64(v[py*w+px])*(1-fx) + float64(v[py*w+px+1])*fx
			b := float64(v[(py+1)*w+px])*(1-fx) + float64(v[(py+1)*w+px+1])*fx
			if a*(1-fy)+b*fy >= 0 {
				inside++
			}
		}
	}
	return float64(inside) / n / n
}
