package plane_test

import (
	"encoding/json"
	"math"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hidechart/hide"
	"hidechart/plane"
)

// Reference: testdata/reference.py (scikit-image 0.19.3, OpenCV 4.6.0, scipy
// 1.10.1): engines that share no code with GEOS. Tolerance of areas from their
// raster of 0.25 mm: cells on the boundary err at random, by far less than half
// a cell on each side; a twentieth of a millimetre along the perimeter is allowed.
func TestAgainstRasterEngines(t *testing.T) {
	data, err := os.ReadFile("testdata/reference.json")
	require.NoError(t, err)
	var ref struct {
		Cases []struct {
			A, B      hide.Ring
			Grow      hide.MM      `json:"grow_mm"`
			Shrink    hide.MM      `json:"shrink_mm"`
			Union     float64      `json:"union_mm2"`
			Inter     float64      `json:"intersection_mm2"`
			Diff      float64      `json:"difference_mm2"`
			Grown     float64      `json:"grown_mm2"`
			Shrunk    float64      `json:"shrunk_mm2"`
			Rectangle [2]float64   `json:"rectangle_mm"`
			Points    []hide.Point `json:"points"`
			Signed    []float64    `json:"signed_distance_mm"`
		} `json:"cases"`
	}
	require.NoError(t, json.Unmarshal(data, &ref))
	require.Len(t, ref.Cases, 8)
	for _, c := range ref.Cases {
		a, b := one(c.A), one(c.B)
		tol := 0.05 * float64(c.A.Length()+c.B.Length())
		check := func(s hide.Shape, err error, want float64, what string) {
			require.NoError(t, err)
			assert.InDelta(t, want, float64(s.Area()), tol, what)
		}
		s, err := plane.Union(a, b)
		check(s, err, c.Union, "union")
		s, err = plane.Intersection(a, b)
		check(s, err, c.Inter, "intersection")
		s, err = plane.Difference(a, b)
		check(s, err, c.Diff, "difference")
		s, err = plane.Buffer(a, c.Grow)
		check(s, err, c.Grown, "grown")
		s, err = plane.Buffer(a, -c.Shrink)
		check(s, err, c.Shrunk, "shrunk")
		r := plane.MinRectangle(a)
		// OpenCV works in 32-bit floats: 0.01 mm
		assert.InDelta(t, c.Rectangle[0], float64(r.Length), 0.01)
		assert.InDelta(t, c.Rectangle[1], float64(r.Width), 0.01)
		edge := plane.NewEdgeIndex(c.A)
		for i, p := range c.Points {
			assert.InDelta(t, math.Abs(c.Signed[i]), float64(edge.Distance(p)), 0.01)
			assert.Equal(t, c.Signed[i] > 0, plane.Contains(a[0], p))
		}
	}
}
