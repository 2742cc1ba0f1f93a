package plane_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"hidechart/hide"
	"hidechart/plane"
)

func TestMinRectangleOfTurnedRectangle(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l, w := rapid.Float64Range(20, 900).Draw(t, "l"), rapid.Float64Range(1, 19).Draw(t, "w")
		angle := rapid.Float64Range(-1.5, 1.5).Draw(t, "angle")
		r := plane.MinRectangle(plane.Rotated(one(rect(1000, 800, l, w)), pt(1000, 800), angle))
		if math.Abs(float64(r.Length)-l) > 1e-6 || math.Abs(float64(r.Width)-w) > 1e-6 || math.Abs(r.Angle-angle) > 1e-6 {
			t.Fatalf("got %+v, want %v x %v at %v", r, l, w, angle)
		}
	})
}

func TestMinRectangleOfFewPoints(t *testing.T) {
	assert.Equal(t, plane.Rectangle{}, plane.MinRectangleOf(nil))
	assert.Equal(t, plane.Rectangle{Centre: pt(3, 4)}, plane.MinRectangleOf([]hide.Point{pt(3, 4)}))
	r := plane.MinRectangleOf([]hide.Point{pt(0, 0), pt(0, 10)})
	assert.InDelta(t, 10, float64(r.Length), 1e-9)
	assert.InDelta(t, 0, float64(r.Width), 1e-9)
	assert.InDelta(t, math.Pi/2, math.Abs(r.Angle), 1e-9)
}

func TestRibbon(t *testing.T) {
	s, err := plane.RibbonFrom([]hide.Point{pt(0, 0), pt(100, 0)}, 10)
	require.NoError(t, err)
	// stadium: L·w + π·w²/4, chords short by h²/6 = 4.02e-4 (h = π/64)
	assert.InDelta(t, 1000+math.Pi*25, float64(s.Area()), 4.1e-4*math.Pi*25)
	dot, err := plane.RibbonFrom([]hide.Point{pt(5, 5), pt(5, 5)}, 10)
	require.NoError(t, err)
	assert.InDelta(t, math.Pi*25, float64(dot.Area()), 4.1e-4*math.Pi*25)
}

func TestEdgeIndexAgainstEverySegment(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := star(t, "ring")[0].Outer
		q := pt(rapid.Float64Range(-500, 4000).Draw(t, "qx"), rapid.Float64Range(-500, 4000).Draw(t, "qy"))
		want := math.Inf(1)
		for i, a := range r { // distance by ternary search along each segment
			b := r[(i+1)%len(r)]
			lo, hi := 0.0, 1.0
			at := func(u float64) float64 {
				return math.Hypot(float64(a.X-q.X)+u*float64(b.X-a.X), float64(a.Y-q.Y)+u*float64(b.Y-a.Y))
			}
			for range 100 {
				m1, m2 := lo+(hi-lo)/3, hi-(hi-lo)/3
				if at(m1) < at(m2) {
					hi = m2
				} else {
					lo = m1
				}
			}
			want = min(want, at(lo))
		}
		x := plane.NewEdgeIndex(r)
		p, d := x.Nearest(q)
		if math.Abs(float64(d)-want) > 1e-5 || math.Abs(float64(p.Distance(q))-want) > 1e-5 {
			t.Fatalf("got %v, want %v", d, want)
		}
	})
}

func TestEdgeDistance(t *testing.T) {
	outline := hide.Polygon{Outer: rect(0, 0, 1000, 800)}
	assert.InDelta(t, 100, float64(plane.EdgeDistance(outline, one(rect(100, 300, 50, 50)))), 1e-9)
	assert.Zero(t, plane.EdgeDistance(outline, one(rect(-10, 300, 50, 50))), "crosses")
	assert.Zero(t, plane.EdgeDistance(outline, one(rect(-100, 300, 50, 50))), "off the hide")
	assert.Zero(t, plane.EdgeDistance(outline, nil))
}

func BenchmarkEdgeIndex(b *testing.B) {
	outline := disc(1500, 1200, 1000, 20000)
	for _, size := range []int{8, 200} {
		spot := one(disc(1500, 1900, 20, size))
		b.Run(map[int]string{8: "spot8", 200: "spot200"}[size], func(b *testing.B) {
			x := plane.NewEdgeIndex(outline)
			b.ReportAllocs()
			for b.Loop() {
				x.DistanceToShape(spot)
			}
		})
	}
}

// The hull of an L is the pentagon of its outer corners; a line has none.
func TestConvexHull(t *testing.T) {
	l := hide.Shape{{Outer: hide.Ring{{X: 0, Y: 0}, {X: 4, Y: 0}, {X: 4, Y: 1}, {X: 1, Y: 1}, {X: 1, Y: 3}, {X: 0, Y: 3}}}}
	assert.InDelta(t, 9, float64(plane.ConvexHull(l).Area()), 1e-9) // 12 less the triangle of 3 by 2
	assert.Empty(t, plane.ConvexHull(nil))
}
