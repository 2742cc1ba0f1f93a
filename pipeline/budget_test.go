package pipeline

import (
	"errors"
	"io"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/calibrate"
	"hidechart/detect"
	"hidechart/hide"
)

func textWriter(s string) func(io.Writer) error {
	return func(w io.Writer) error {
		_, err := io.WriteString(w, s)
		return err
	}
}

func brokenWriter(w io.Writer) error {
	if _, err := io.WriteString(w, "half"); err != nil {
		return err
	}
	return errors.New("broken")
}

// fromAbove is a pinhole camera z mm above a table of 4 × 4 m, looking straight down.
func fromAbove(z float64) calibrate.View {
	return calibrate.View{
		Camera: calibrate.Camera{FX: 2000, FY: 2000, CX: 1500, CY: 1500, Width: 3000, Height: 3000},
		R:      [9]float64{1, 0, 0, 0, -1, 0, 0, 0, -1},
		T:      [3]float64{-2000, 2000, z},
	}
}

// shared/facts.md, error budget [C]: a hide of 4.65 m² with 9.5 m of edge: edge
// out by 0.5 mm → 0.10 % of the area; scale off 0.1 % → 0.2 %; leather 5 mm above
// the plane seen from 2.5 m → 0.40 %.
func TestBudgetAgainstFacts(t *testing.T) {
	// a rectangle with that area and edge: a + b = 4.75 m, a·b = 4.65 m²
	root := math.Sqrt(4750*4750 - 4*4.65e6)
	a, b := hide.MM(4750+root)/2, hide.MM(4750-root)/2
	ring := hide.Ring{{X: 0, Y: 0}, {X: a, Y: 0}, {X: a, Y: b}, {X: 0, Y: b}}
	p := DefaultParams()
	p.StatedSubstanceU, p.LieU, p.SpreadingU = 5, 0, 0
	m := measured{params: p, stated: true, view: fromAbove(2500), height: 0,
		fit:     calibrate.Fit{ScaleU: 0.001, LensU: 0},
		outline: detect.Outline{Polygon: hide.Polygon{Outer: ring}, EdgeU: 0.5}}
	got := budget(m)
	percent := map[string]float64{}
	for _, part := range got.Budget {
		percent[part.Source] = 100 * float64(part.U/got.Value)
	}
	require.InDelta(t, 4.65e6, float64(got.Value), 1)
	require.InDelta(t, 0.10, percent["edge"], 0.005)  // printed to 0.01
	require.InDelta(t, 0.20, percent["scale"], 0.005) // printed to 0.1
	require.InDelta(t, 0.40, percent["height"], 0.005)
	require.Zero(t, percent["lens"])
	// JCGM 100:2008, 5.1.2: the root of the sum of squares
	require.InDelta(t, math.Sqrt(0.102*0.102+0.2*0.2+0.4*0.4), 100*float64(got.U/got.Value), 0.005)
}

// A leather seen from a finite height and taken for flat on the table looks
// larger; raised brings it back: similar triangles, (H−z)/H.
func TestRaised(t *testing.T) {
	v := fromAbove(2500)
	r := hide.Ring{{X: 1500, Y: 1500}, {X: 2500, Y: 1500}, {X: 2500, Y: 2500}, {X: 1500, Y: 2500}}
	got := raised(r, v, 0, 10)
	require.InDelta(t, 1e6*2490.0*2490/2500/2500, float64(got.SignedArea()), 1e-3)
}
