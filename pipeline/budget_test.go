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
		in:      inputs{rig: calibrate.Rig{ScaleU: 0.001}},
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

// Every line of the table gives its contribution as sensitivity times standard
// uncertainty (JCGM 100:2008, 5.1.2), says how it was evaluated, and the lengths
// of a chart take half the area's share.
func TestBudgetLines(t *testing.T) {
	ring := hide.Ring{{X: 1000, Y: 1000}, {X: 3000, Y: 1000}, {X: 3000, Y: 2000}, {X: 1000, Y: 2000}}
	p := DefaultParams()
	p.SpreadingU = 0.002
	m := measured{params: p, view: fromAbove(2500), height: 1.5, in: inputs{rig: calibrate.Rig{ScaleU: 0.0005}},
		outline: detect.Outline{Polygon: hide.Polygon{Outer: ring}, EdgeU: 0.1}}
	got := budget(m)
	require.Len(t, got.Budget, 5)
	for _, b := range got.Budget {
		require.InDelta(t, math.Abs(b.InputU*b.Sensitivity), float64(b.U), 1e-6*float64(got.Value), b.Source)
		require.NotEmpty(t, b.Quantity)
		require.NotEmpty(t, b.Unit)
		require.Contains(t, []string{"A", "B"}, b.Type)
		require.NotEmpty(t, b.Text)
	}
	// by hand: scale 0.05 % of lengths; 2 m × 1 m seen from 2.5 m, out by hypot(0.6, 0.5) mm
	height := 0.781 / 2500
	require.InDelta(t, math.Hypot(0.0005, height), got.LengthU(), 2e-6)
}

// Sizes carry u: the common part grows with the length, the placing of the ends
// does not (JCGM 100:2008, 5.1.2); a hole is placed as the edge is.
func TestSizesCarryU(t *testing.T) {
	m := measured{params: DefaultParams(), pixelMM: 0.7, outline: detect.Outline{EdgeU: 0.05}}
	area := hide.Area{Value: 1e6, Budget: []hide.BudgetPart{{Source: "scale", U: 2000}, {Source: "edge", U: 900}, {Source: "spreading", U: 5000}}}
	square := func(side hide.MM) hide.Shape {
		return hide.Shape{{Outer: hide.Ring{{}, {X: side}, {X: side, Y: side}, {Y: side}}}}
	}
	got := m.sized([]hide.Defect{{Kind: hide.Scar, Length: 1000, Width: 3, Area: 3000, Geometry: square(50)},
		{Kind: hide.Hole, Length: 10, Width: 10, Area: 100, Geometry: square(10)}}, area)
	// 0.1 % of 1000 mm is 1 mm; each end within a millimetre: √(2/3)
	require.InDelta(t, math.Sqrt(1+2.0/3), float64(got[0].LengthU), 1e-3)
	require.InDelta(t, math.Sqrt(2.0/3), float64(got[0].WidthU), 1e-3)
	// the edge to 0.05 mm, what a rim is to 0.1 mm, along 40 mm; and 0.2 % of 100 mm²
	require.InDelta(t, math.Hypot(math.Hypot(0.05, 0.1)*40, 0.2), float64(got[1].AreaU), 1e-3)
	require.Less(t, float64(got[1].LengthU), 0.2)
}

// A leather seen from a finite height and taken for flat on the table looks
// larger; raised brings it back: similar triangles, (H−z)/H.
func TestRaised(t *testing.T) {
	v := fromAbove(2500)
	r := hide.Ring{{X: 1500, Y: 1500}, {X: 2500, Y: 1500}, {X: 2500, Y: 2500}, {X: 1500, Y: 2500}}
	got := raised(r, v, 0, 10)
	require.InDelta(t, 1e6*2490.0*2490/2500/2500, float64(got.SignedArea()), 1e-3)
}
