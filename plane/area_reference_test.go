package plane_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/hide"
)

// A published worked example: the polygon of Rosetta Code, "Shoelace formula for
// polygonal area", whose answer is 30; with a triangle of 1 × 1/2 by hand as a hole.
func TestAreaOfAPublishedExample(t *testing.T) {
	p := hide.Polygon{Outer: hide.Ring{pt(3, 4), pt(5, 11), pt(12, 8), pt(9, 5), pt(5, 6)}}
	require.InDelta(t, 30, float64(p.Area()), 1e-12)
	require.InDelta(t, -30, float64(p.Outer.SignedArea()), 1e-12, "given clockwise")
	p.Holes = []hide.Ring{{pt(6, 8), pt(7, 8), pt(6, 9)}}
	require.InDelta(t, 29.5, float64(p.Area()), 1e-12)
	require.InDelta(t, 29.5, float64(p.Oriented().Area()), 1e-12)
}

// holed is a star-shaped ring about a random place on a large table with a hole in each of
// some sectors, none of which touch.
func holed(r *rand.Rand) hide.Polygon {
	n, x, y, size := 3+r.IntN(400), 6000*r.Float64(), 4000*r.Float64(), math.Pow(10, 1+2.5*r.Float64())
	ring := func(cx, cy, least, most float64, n int) hide.Ring {
		out := make(hide.Ring, n)
		for i := range out {
			s, c := math.Sincos(2 * math.Pi * (float64(i) + 0.8*r.Float64()) / float64(n))
			k := least + (most-least)*r.Float64()
			out[i] = pt(cx+k*c, cy+k*s)
		}
		return out
	}
	p := hide.Polygon{Outer: ring(x, y, size/2, size, max(n, 12))}
	for k := range 6 { // six discs round the middle, each inside half the least radius
		if r.IntN(2) == 0 {
			s, c := math.Sincos(2 * math.Pi * float64(k) / 6)
			p.Holes = append(p.Holes, ring(x+size*0.25*c, y+size*0.25*s, size*0.03, size*0.1, 5+r.IntN(60)))
		}
	}
	return p
}

func wkt(p hide.Polygon) string {
	rings := make([]string, 0, 1+len(p.Holes))
	for _, r := range append([]hide.Ring{p.Outer}, p.Holes...) {
		points := make([]string, 0, len(r)+1)
		for _, q := range append(r[:len(r):len(r)], r[0]) {
			points = append(points, fmt.Sprintf("%.17g %.17g", float64(q.X), float64(q.Y)))
		}
		rings = append(rings, "("+strings.Join(points, ",")+")")
	}
	return "POLYGON (" + strings.Join(rings, ",") + ")"
}

// Random polygons with holes against GEOS's own area and length (GEOSArea, GEOSLength
// of the C library, testdata/geos_area.py; run with GEOS 3.11.1). Tolerance: a sum of
// n products of coordinates below 10⁴ mm in double precision, rounded at 2⁻⁵³ of 10⁸
// mm² each: 400·10⁸·10⁻¹⁶ = 4·10⁻⁶ mm²; lengths likewise, far below.
func TestAreaAgainstGEOS(t *testing.T) {
	const python = "/usr/bin/python3"
	if _, err := os.Stat(python); err != nil {
		t.Skip("no python3")
	}
	r := rand.New(rand.NewPCG(17, 3))
	var polygons []hide.Polygon
	var texts []string
	for range 500 {
		p := holed(r)
		if r.IntN(2) == 0 { // wound either way
			p = p.Oriented()
		}
		polygons, texts = append(polygons, p), append(texts, wkt(p))
	}
	in, err := json.Marshal(texts)
	require.NoError(t, err)
	cmd := exec.CommandContext(t.Context(), python, "testdata/geos_area.py")
	cmd.Stdin = bytes.NewReader(in)
	data, err := cmd.Output()
	require.NoError(t, err)
	var got struct {
		Version string   `json:"version"`
		Of      [][3]any `json:"of"`
	}
	require.NoError(t, json.Unmarshal(data, &got))
	require.Len(t, got.Of, len(polygons))
	holes, worst := 0, 0.0
	for i, p := range polygons {
		require.Equal(t, true, got.Of[i][2], "GEOS finds polygon %d valid", i)
		area, length := got.Of[i][0].(float64), got.Of[i][1].(float64)
		worst = max(worst, math.Abs(float64(p.Area())-area))
		require.InDelta(t, area, float64(p.Area()), 4e-6, i)
		require.InDelta(t, length, float64(hide.Shape{p}.Perimeter()), 4e-6, i)
		holes += len(p.Holes)
	}
	require.Greater(t, holes, 1000)
	t.Logf("GEOS %s: %d polygons with %d holes, areas differ by %.1e mm² at most", got.Version, len(polygons), holes, worst)
}
