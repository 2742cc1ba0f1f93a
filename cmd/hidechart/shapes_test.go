package main

import (
	"fmt"
	"math"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/hide"
	"hidechart/pipeline"
	"hidechart/scene"
)

// circle has so many vertices that its area is short of the disc's by 1e-6 of it:
// 1 - sin(2π/n)/(2π/n) = 6.6/n².
func circle(x, y, r float64) hide.Ring {
	const n = 2400
	out := make(hide.Ring, n)
	for i := range out {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / n)
		out[i] = hide.Point{X: hide.MM(x + r*cos), Y: hide.MM(y + r*sin)}
	}
	return out
}

// turnedRectangle is a rectangle about a centre.
func turnedRectangle(x, y, a, b, degrees float64) hide.Ring {
	sin, cos := math.Sincos(degrees * math.Pi / 180)
	var out hide.Ring
	for _, q := range [4][2]float64{{-a / 2, -b / 2}, {a / 2, -b / 2}, {a / 2, b / 2}, {-a / 2, b / 2}} {
		out = append(out, hide.Point{X: hide.MM(x + q[0]*cos - q[1]*sin), Y: hide.MM(y + q[0]*sin + q[1]*cos)})
	}
	return out
}

// Shapes whose area a formula gives (πr², π(R²−r²), a·b), photographed with tags,
// lens, blur, noise and compression and measured by the whole chain. Limits: the
// worst error that issue 3 allows a flat hide, and three times the stated u.
func TestShapesAgainstFormulas(t *testing.T) {
	for name, s := range map[string]struct {
		outline hide.Ring
		holes   []hide.Ring
		area    float64
	}{
		"disc":              {circle(1500, 1100, 700), nil, math.Pi * 700 * 700},
		"ring":              {circle(1500, 1100, 700), []hide.Ring{circle(1550, 1150, 250)}, math.Pi * (700*700 - 250*250)},
		"small hole":        {circle(1500, 1100, 700), []hide.Ring{circle(1550, 1150, 60)}, math.Pi * (700*700 - 60*60)},
		"rotated rectangle": {turnedRectangle(1500, 1100, 1700, 800, 23), nil, 1700 * 800},
	} {
		t.Run(name, func(t *testing.T) {
			dir := t.TempDir()
			require.NoError(t, scene.Render(t.Context(), scene.Spec{Seed: 31, WidthPX: 2000, Tags: 12, Article: "crust grey", Table: "black", Defects: -1, NoLookAlikes: true,
				Lights: []hide.Light{hide.Top}, Outline: s.outline, Holes: s.holes}, dir))
			c, err := pipeline.OpenCapture(dir)
			require.NoError(t, err)
			got, err := pipeline.MeasureArea(t.Context(), c, filepath.Join(dir, "rig.yaml"), pipeline.DefaultParams())
			require.NoError(t, err)
			share := float64(got.Area.Value)/s.area - 1
			text := fmt.Sprintf("%+.3f %% of the formula, u %.3f %%", 100*share, 100*float64(got.Area.U)/s.area)
			t.Log(text)
			require.Len(t, got.Outline.Holes, len(s.holes), text)
			require.Less(t, math.Abs(share), 0.003, text)
			require.Less(t, math.Abs(share)*s.area, 3*float64(got.Area.U), text)
		})
	}
}
