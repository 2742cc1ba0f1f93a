package detect

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/hide"
)

func traceOf(points ...hide.Point) trace {
	t := trace{sigma: 1}
	for k := 1; k < len(points); k++ {
		a, b := points[k-1], points[k]
		n := int(a.Distance(b) / 2)
		for i := range n {
			f := hide.MM(i) / hide.MM(n)
			t.line = append(t.line, hide.Point{X: a.X + f*(b.X-a.X), Y: a.Y + f*(b.Y-a.Y)})
		}
	}
	t.line = append(t.line, points[len(points)-1])
	for range t.line {
		t.score = append(t.score, 8)
	}
	return t
}

// A line that turns as no flaw does is two; one on a curve of 30 mm radius is one.
func TestCorners(t *testing.T) {
	bent := traceOf(at(0, 0), at(60, 0), at(100, 50))
	parts := bent.atCorners(14)
	require.Len(t, parts, 2)
	require.InDelta(t, 60, float64(parts[0].length()), 2)
	require.InDelta(t, 60, float64(parts[0].line[len(parts[0].line)-1].X), 2)
	require.InDelta(t, 8, parts[1].mean, 1e-9)
	var arc []hide.Point
	for a := 0.0; a < 3; a += 0.05 {
		arc = append(arc, at(30*math.Cos(a), 30*math.Sin(a)))
	}
	curve := traceOf(arc...)
	curve.line, curve.score = arc, make([]float64, len(arc))
	require.Len(t, curve.atCorners(14), 1)
	bent.sigma = 4 // a stroke of a brand
	require.Len(t, bent.atCorners(14), 1)
}
