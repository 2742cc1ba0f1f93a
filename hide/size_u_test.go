package hide

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

// By hand after JCGM 100:2008, 5.1.2: independent parts add as squares.
func TestSizesByHand(t *testing.T) {
	a := Area{Value: 1e6, Budget: []BudgetPart{{Source: "scale", U: 1200}, {Source: "lens", U: 1600}, {Source: "spreading", U: 9000},
		{Source: "edge", U: 900, InputU: 0.3, Unit: "mm"}}}
	require.InDelta(t, 0.001, a.LengthU(), 1e-12) // √(1200² + 1600²)/10⁶/2; spreading and edge are no lengths' own
	require.InDelta(t, 0.3, float64(a.EdgeU()), 1e-12)
	shape := Shape{{Outer: Ring{{}, {X: 400}, {X: 400, Y: 10}, {Y: 10}}}}
	d := Defect{Geometry: shape, Area: 4000, Length: 400, Width: 10, EdgeDistance: 30}
	d.SetU(a, Placed{End: 0.4, Border: 0.2})
	require.InDelta(t, math.Sqrt(0.4*0.4*2+0.4*0.4), float64(d.LengthU), 1e-9)
	require.InDelta(t, math.Sqrt(0.4*0.4*2+0.01*0.01), float64(d.WidthU), 1e-9)
	require.InDelta(t, math.Hypot(0.2*820, 8), float64(d.AreaU), 1e-9)
	require.InDelta(t, math.Sqrt(0.4*0.4+0.3*0.3+0.03*0.03), float64(d.EdgeDistanceU), 1e-9)
	require.InDelta(t, math.Hypot(8, 0.3*820), float64(a.ZoneAreaU(shape)), 1e-9)
}

// What is not known is not stated: no figure is left over from an older shape.
func TestNoBudgetNoU(t *testing.T) {
	d := Defect{Length: 5, LengthU: 1, WidthU: 1, AreaU: 1, EdgeDistance: 3, EdgeDistanceU: 1}
	d.SetU(Area{Value: 1e6, U: 500}, DrawnByHand(1))
	require.Zero(t, d.LengthU+d.WidthU+d.EdgeDistanceU)
	require.Zero(t, d.AreaU)
	d = Defect{Length: 5, EdgeDistanceU: 1}
	d.SetU(Area{Value: 1e6, Budget: []BudgetPart{{Source: "scale", U: 10}}}, DrawnByHand(1))
	require.Zero(t, d.EdgeDistanceU, "it meets the edge")
	require.Greater(t, d.LengthU, MM(0))
}

// A hole that a reviewer draws makes the area less sure, with a line of its own.
func TestDrawnHoleIsInTheBudget(t *testing.T) {
	ring := func(x, y, s MM) Ring {
		return Ring{{X: x, Y: y}, {X: x + s, Y: y}, {X: x + s, Y: y + s}, {X: x, Y: y + s}}
	}
	c := Chart{Outline: Polygon{Outer: ring(0, 0, 1000)}, Area: Area{Value: 1e6, U: 300, Budget: []BudgetPart{{Source: "scale", U: 300}}}}
	hole := Defect{ID: 1, Kind: Hole, Status: Added, Geometry: Shape{{Outer: ring(400, 400, 100)}}, Area: 10000, AreaU: 400}
	got := Fold(c, "s", []Decision{{Seq: 1, Chart: "s", Act: ActAdd, After: []Defect{hole}, Seen: []int{}}}, "").Chart
	require.InDelta(t, 1e6-1e4, float64(got.Area.Value), 1e-6)
	require.InDelta(t, 500, float64(got.Area.U), 1e-9) // 3-4-5
	require.Equal(t, "review", got.Area.Budget[1].Source)
	require.Len(t, c.Area.Budget, 1, "the chart that came in is not changed")
}
