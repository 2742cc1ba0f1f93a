package score

import (
	"bytes"
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/hide"
	"hidechart/plane"
)

func rect(left, bottom, right, top hide.MM) hide.Shape {
	return hide.Shape{{Outer: hide.Ring{{X: left, Y: bottom}, {X: right, Y: bottom}, {X: right, Y: top}, {X: left, Y: top}}}}
}

func candidate(id int, k hide.Kind, p float64, s hide.Shape) hide.Defect {
	return hide.Defect{ID: id, Kind: k, Status: hide.Candidate, Probability: p, Geometry: s, Area: s.Area()}
}

// drawnChart is the right outline and backbone of draw, without defects.
func drawnChart() hide.Chart {
	return hide.Chart{Outline: rect(10, 10, 190, 140)[0], Area: hide.Area{Value: drawnArea, U: 100},
		Backbone: [2]hide.Point{{X: 10, Y: 75}, {X: 190, Y: 75}}}
}

func compared(t *testing.T, c hide.Chart, truth Truth) Result {
	t.Helper()
	r, err := Compare(c, truth)
	require.NoError(t, err)
	return r
}

// squaresOf are the pixels of one defect, each run along a row as a rectangle.
func squaresOf(truth Truth, defect int) []hide.Shape {
	box := pixelBox(truth.Grid, truth.Defects[defect].Box)
	part := Truth{Grid: truth.Grid.Crop(box), Defects: truth.Defects, ID: make([]uint16, area(box))}
	for y := range box.Dy() {
		for x := range box.Dx() {
			if id := truth.ID[(box.Min.Y+y)*truth.Grid.Width+box.Min.X+x]; int(id) == defect+1 {
				part.ID[y*box.Dx()+x] = id
			}
		}
	}
	return pixelSquares(part, truth.Defects[defect].Kind)
}

// perfect is the chart that the truth itself would give.
func perfect(t testing.TB, truth Truth) hide.Chart {
	t.Helper()
	c := hide.Chart{Area: hide.Area{Value: truth.Area}}
	if truth.Backbone != nil {
		c.Backbone = *truth.Backbone
	}
	outline, err := plane.Union(hide.Shape{{Outer: truth.Outline}})
	require.NoError(t, err)
	for i, d := range truth.Defects {
		if d.Pixels == 0 {
			continue
		}
		s, err := plane.Union(squaresOf(truth, i)...)
		require.NoError(t, err)
		c.Defects = append(c.Defects, candidate(i+1, d.Kind, 1, s))
		if d.Kind == hide.Hole {
			outline, err = plane.Difference(outline, s)
			require.NoError(t, err)
		}
	}
	require.Len(t, outline, 1)
	c.Outline = outline[0]
	return c
}

func TestPerfectChart(t *testing.T) {
	d := draw()
	d.defect(1, 20, 20, 40, 22)
	d.defect(2, 100, 100, 106, 106)
	d.defect(3, 120, 30, 150, 60)
	truth := d.truth(t)
	truth.Area -= 36 // the hole is no leather
	r := compared(t, perfect(t, truth), truth)
	require.InDelta(t, 0, r.AreaError, 0)
	require.InDelta(t, 1, r.OutlineIoU, 1e-12)
	require.InDelta(t, 0, float64(*r.NeckError+*r.TailError), 0)
	require.InDelta(t, 1, *r.Recall, 0)
	require.InDelta(t, 1, *r.KindAccuracy, 0)
	require.InDelta(t, 1, *r.HoleRecall, 0)
	require.InDelta(t, 0, *r.CalibrationErr, 0)
	require.Zero(t, r.FalseCandidates)
	require.Zero(t, r.InventedHoles)
	require.InDelta(t, 0, r.FalseAreaShare, 0)
}

func TestEmptyChart(t *testing.T) {
	d := draw()
	d.defect(1, 20, 20, 40, 22)
	d.defect(2, 100, 100, 106, 106)
	r := compared(t, hide.Chart{}, d.truth(t))
	require.InDelta(t, -1, r.AreaError, 0)
	require.InDelta(t, 0, r.OutlineIoU, 0)
	require.InDelta(t, 0, *r.Recall, 0)
	require.InDelta(t, 0, *r.HoleRecall, 0)
	require.Nil(t, r.KindAccuracy)
	require.Nil(t, r.CalibrationErr)
	require.Zero(t, r.FalseCandidates)
}

// A rectangle moved by 10 mm of 180: IoU = 170/190.
func TestOutlineIoU(t *testing.T) {
	c := drawnChart()
	c.Outline = rect(20, 10, 200, 140)[0]
	c.Area.Value = drawnArea * 1.01
	c.Backbone[0] = hide.Point{X: 13, Y: 79} // 3-4-5
	r := compared(t, c, draw().truth(t))
	require.InDelta(t, 170.0/190, r.OutlineIoU, 1e-12)
	require.InDelta(t, 0.01, r.AreaError, 1e-12)
	require.InDelta(t, 2.34, *r.AreaErrorInU, 1e-9)
	require.InDelta(t, 5, float64(*r.NeckError), 1e-12)
}

// The truth is a scar of 40 mm × 2 mm along y = 20…22 from x = 20.
func TestFoundNeedsThirtyPercent(t *testing.T) {
	d := draw()
	d.defect(1, 20, 20, 60, 22)
	truth := d.truth(t)
	for _, c := range []struct {
		name  string
		shape hide.Shape
		found bool
	}{
		// covered to x = 29.5, reach 2 mm: 11.5 mm of 40 = 29 %
		{"short of it", rect(20, 20, 29.5, 22), false},
		// to 30.5: 12.5 of 40 = 31 %
		{"past it", rect(20, 20, 30.5, 22), true},
		// 1 mm beside it all along
		{"beside", rect(20, 23, 60, 25), true},
		// 2.5 mm off: the nearest pixel centres lie 3 mm apart
		{"too far", rect(20, 24.5, 60, 26), false},
	} {
		chart := drawnChart()
		chart.Defects = []hide.Defect{candidate(1, hide.Stain, 0.5, c.shape)}
		r := compared(t, chart, truth)
		require.Equal(t, c.found, r.Truths[0].Found, c.name)
		chart.Defects[0].Probability = 0.49
		require.False(t, compared(t, chart, truth).Truths[0].Found, "below 0.5: "+c.name)
	}
}

func TestFalseAndWronglyCovered(t *testing.T) {
	d := draw()
	d.defect(1, 20, 20, 60, 22)
	truth := d.truth(t)
	chart := drawnChart()
	chart.Defects = []hide.Defect{
		candidate(1, hide.Scar, 0.9, rect(20, 20, 60, 22)),     // right
		candidate(2, hide.Stain, 0.8, rect(100, 80, 110, 90)),  // false, 100 mm²
		candidate(3, hide.Stain, 0.8, rect(105, 80, 115, 90)),  // false, 50 mm² more
		candidate(4, hide.Stain, 0.3, rect(150, 80, 160, 90)),  // not certain: neither
		candidate(5, hide.Scratch, 0.7, rect(62, 20, 102, 22)), // touches the zone of 3 mm: not false
	}
	chart.Defects = append(chart.Defects, candidate(6, hide.Scar, 0.99, rect(150, 30, 160, 40)))
	chart.Defects[5].Status = hide.Rejected
	r := compared(t, chart, truth)
	require.Equal(t, 2, r.FalseCandidates)
	require.InDelta(t, 2/(drawnArea*1e-6), r.FalsePerM2, 1e-9)
	// 150 mm² of stains and the scratch from x = 63 on: 39 mm × 2 mm; the
	// corners of the zone are round and the grid is 0.5 mm
	require.InDelta(t, 150+39*2, float64(r.FalseArea), 2)
	require.InDelta(t, 1, *r.KindAccuracy, 0)
	require.Len(t, r.Candidates, 5)
	require.True(t, r.Candidates[0].Real)
	require.False(t, r.Candidates[4].Real, "2 of its 40 mm lie near the scar")
}

func TestKindOfTheCandidateThatCoversMost(t *testing.T) {
	d := draw()
	d.defect(1, 20, 20, 60, 22)
	truth := d.truth(t)
	chart := drawnChart()
	chart.Defects = []hide.Defect{
		candidate(7, hide.Scratch, 0.95, rect(20, 20, 35, 22)),
		candidate(8, hide.Scar, 0.6, rect(38, 20, 60, 22)),
	}
	r := compared(t, chart, truth)
	require.Equal(t, hide.Scar, r.Truths[0].As)
	require.Equal(t, 8, r.Truths[0].By)
	require.InDelta(t, 1, *r.KindAccuracy, 0)
}

func TestHolesFoundAndInvented(t *testing.T) {
	d := draw()
	d.defect(2, 50, 50, 54, 54)     // 4.5 mm across as a circle
	d.defect(2, 80, 50, 82, 52)     // 2.3 mm: need not be found
	d.defect(2, 120, 50, 124, 54)   // charted as a stain: not a hole found
	d.defect(2, 150, 100, 160, 110) // inner ring only
	truth := d.truth(t)
	chart := drawnChart()
	chart.Outline.Holes = []hide.Ring{rect(150, 100, 160, 110)[0].Outer, rect(20, 120, 24, 124)[0].Outer}
	chart.Defects = []hide.Defect{
		candidate(1, hide.Hole, 0.9, rect(50, 50, 54, 54)),
		candidate(2, hide.Stain, 0.9, rect(120, 50, 124, 54)),
		candidate(3, hide.Hole, 0.9, rect(20, 120, 24, 124)), // the invented ring again
		candidate(4, hide.Hole, 0.9, rect(30, 30, 34, 34)),
	}
	r := compared(t, chart, truth)
	require.Equal(t, 3, r.Holes)
	require.Equal(t, 2, r.HolesHit)
	require.Equal(t, 2, r.InventedHoles)
}

func TestTableNamesEveryFigure(t *testing.T) {
	d := draw()
	d.defect(1, 20, 20, 60, 22)
	d.defect(2, 100, 100, 106, 106)
	chart := drawnChart()
	chart.Defects = []hide.Defect{candidate(1, hide.Stain, 0.9, rect(20, 20, 60, 22)), candidate(2, hide.Wart, 0.9, rect(150, 30, 160, 40))}
	var out bytes.Buffer
	require.NoError(t, compared(t, chart, d.truth(t)).WriteTable(&out))
	for _, name := range []string{"area_error", "outline_iou", "recall", "false_per_m2", "false_area_share", "kind_accuracy",
		"calibration_error", "border_off_mm", "hole_recall", "invented_holes", "missed: truth 2, hole", "other kind: truth 1, scar", "false: candidate 2, wart"} {
		require.Contains(t, out.String(), name)
	}
}
