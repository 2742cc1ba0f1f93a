package scene

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/hide"
	"hidechart/pix"
)

// A disc's covered pixels must add up to its polygon's area (shoelace), and
// no pixel may be above 1; half a pixel's cover at a known edge is known.
func TestCoverAddsUpToTheArea(t *testing.T) {
	var disc []pix.Point
	want := 0.0
	const n, r, cx, cy = 720, 37.3, 50.2, 48.9
	for i := range n {
		s, c := math.Sincos(2 * math.Pi * float64(i) / n)
		disc = append(disc, pix.Point{X: hide.PX(cx + r*c), Y: hide.PX(cy + r*s)})
		want += r * r / 2 * math.Sin(2*math.Pi/n)
	}
	c := newCover(0, 0, 100, 100)
	c.ring(disc)
	out := make([]float32, 100)
	got := 0.0
	for y := range 100 {
		c.row(y, out)
		for _, a := range out {
			require.LessOrEqual(t, a, float32(1))
			got += float64(a)
		}
	}
	require.InDelta(t, want, got, 0.01) // float32 sums over 4,400 pixels
}

func TestCoverOfAKnownEdge(t *testing.T) {
	c := newCover(0, 0, 6, 3)
	// from x = 1.25 to 3.75 in continuous coordinates, all rows
	c.ring([]pix.Point{{X: .75, Y: -5}, {X: 3.25, Y: -5}, {X: 3.25, Y: 9}, {X: .75, Y: 9}})
	out := make([]float32, 6)
	c.row(1, out)
	require.InDeltaSlice(t, []float32{0, .75, 1, .75, 0, 0}, out, 1e-5)
}

// project and ground are inverse to each other at any height.
func TestCameraInverse(t *testing.T) {
	spec := Spec{Seed: 5}.filled()
	table := drawTable(stream(5, "table"), spec)
	cam := drawCamera(stream(5, "camera"), spec, table)
	for _, above := range []float64{0, 3} {
		for _, p := range []hide.Point{{X: 10, Y: 10}, {X: 1500, Y: 1300}, {X: hide.MM(table.width), Y: hide.MM(table.height)}} {
			q := cam.project(p, above)
			back := cam.ground(float64(q.X), float64(q.Y), above)
			require.InDelta(t, 0, float64(p.Distance(back)), 1e-3)
		}
	}
}

// Contours are simple, wound counter-clockwise and inside the table, whatever
// the seed.
func TestContoursAreSimpleAndOnTheTable(t *testing.T) {
	for seed := range int64(120) {
		w := newWorld(Spec{Seed: seed}.filled())
		ring := make([]place, len(w.outline))
		for i, p := range w.outline {
			ring[i] = place{float64(p.X), float64(p.Y)}
			require.True(t, p.X > 0 && p.Y > 0 && float64(p.X) < w.table.width && float64(p.Y) < w.table.height, "seed %d", seed)
		}
		require.True(t, isSimple(ring), "seed %d", seed)
		require.Positive(t, float64(w.outline.SignedArea()))
		require.True(t, w.cam.sees(w.table), "seed %d", seed)
	}
}
