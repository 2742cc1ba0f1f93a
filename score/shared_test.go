package score

import (
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/hide"
)

// captures are the shared captures of known truth, made by another program.
func captures(tb testing.TB) []string {
	tb.Helper()
	found, err := filepath.Glob(filepath.Join("..", "..", "shared", "captures", "*", "truth.json"))
	require.NoError(tb, err)
	if len(found) == 0 {
		tb.Skip("no shared captures beside this checkout")
	}
	return found
}

// The areas stated in truth.json were counted by the program that drew the
// hides; splitting the raster must give them back wherever no other defect was
// laid over.
func TestSharedTruthSplitsIntoTheStatedAreas(t *testing.T) {
	for _, name := range captures(t) {
		truth, err := ReadTruth(name)
		require.NoError(t, err)
		exact, stated, shown := 0, map[hide.Kind]float64{}, map[hide.Kind]float64{}
		for _, d := range truth.Defects {
			got := float64(d.Pixels) * float64(truth.Grid.MMPerPX*truth.Grid.MMPerPX)
			stated[d.Kind] += float64(d.Area)
			shown[d.Kind] += got
			if got == float64(d.Area) {
				exact++
			}
		}
		// two of a kind that cross share their pixels by their boxes, so only the
		// kind's sum can be held against what was stated before anything was
		// laid over it
		for k, a := range stated {
			require.LessOrEqual(t, shown[k], a, "%s %s", name, k)
		}
		// overlaps are the exception: by eye at most five of a capture's 21–28
		require.GreaterOrEqual(t, exact, len(truth.Defects)-5, name)
	}
}

func TestSharedPerfectChart(t *testing.T) {
	for _, name := range captures(t) {
		truth, err := ReadTruth(name)
		require.NoError(t, err)
		chart := perfect(t, truth)
		r := compared(t, chart, truth)
		require.InDelta(t, 1, r.OutlineIoU, 1e-9, name)
		require.InDelta(t, 1, *r.Recall, 0, name)
		require.InDelta(t, 1, *r.KindAccuracy, 0, name)
		require.InDelta(t, 1, *r.HoleRecall, 0, name)
		require.Zero(t, r.FalseCandidates, name)
		require.Zero(t, r.InventedHoles, name)
		require.InDelta(t, 0, r.FalseAreaShare, 0, name)

		// moved by 1 mm each way everything is still found, yet the outline shows it
		for i := range chart.Defects {
			chart.Defects[i].Geometry = moved(chart.Defects[i].Geometry, 1)
		}
		chart.Outline = moved(hide.Shape{chart.Outline}, 1)[0]
		r = compared(t, chart, truth)
		require.InDelta(t, 1, *r.Recall, 0, name)
		require.Zero(t, r.FalseCandidates, name)
		require.Less(t, r.OutlineIoU, 0.9992, name) // about 1 mm × half the perimeter each way
	}
}

func moved(s hide.Shape, by hide.MM) hide.Shape {
	shift := func(r hide.Ring) hide.Ring {
		out := make(hide.Ring, len(r))
		for i, p := range r {
			out[i] = hide.Point{X: p.X + by, Y: p.Y + by}
		}
		return out
	}
	var out hide.Shape
	for _, p := range s {
		q := hide.Polygon{Outer: shift(p.Outer)}
		for _, h := range p.Holes {
			q.Holes = append(q.Holes, shift(h))
		}
		out = append(out, q)
	}
	return out
}

func BenchmarkCompare(b *testing.B) {
	name := captures(b)[0]
	truth, err := ReadTruth(name)
	require.NoError(b, err)
	chart := perfect(b, truth)
	b.ReportAllocs()
	for b.Loop() {
		_, err := Compare(chart, truth)
		require.NoError(b, err)
	}
}

func BenchmarkReadTruth(b *testing.B) {
	name := captures(b)[0]
	b.ReportAllocs()
	for b.Loop() {
		_, err := ReadTruth(name)
		require.NoError(b, err)
	}
}
