package plane

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hidechart/hide"
)

// checkZones: they cover the outline exactly and agree with ZoneAt.
func checkZones(t *testing.T, f HideFrame, outline hide.Polygon) map[hide.Zone]float64 {
	t.Helper()
	want := float64(outline.Area())
	shares := map[hide.Zone]float64{}
	var sum float64
	var all []hide.Shape
	zones := f.Zones()
	for _, z := range zones {
		a := float64(z.Geometry.Area())
		shares[z.Zone], sum = a/want, sum+a
		all = append(all, z.Geometry)
		for _, p := range z.Geometry {
			require.NoError(t, IsValid(p))
		}
	}
	assert.InDelta(t, 1, sum/want, 1e-6, "areas add up")
	// they add up and their union is as large: so they do not overlap
	u, err := Union(all...)
	require.NoError(t, err)
	assert.InDelta(t, 1, float64(u.Area())/want, 1e-6, "no overlap")
	r, box := rand.New(rand.NewPCG(1, 2)), boxOf(outline.Outer)
	for range 300 {
		q := pointAt(between(r, box.MinX, box.MaxX), between(r, box.MinY, box.MaxY))
		for _, z := range zones {
			if ContainsShape(z.Geometry, q) {
				assert.Equal(t, z.Zone, f.ZoneAt(q), "at %v", q)
			}
		}
	}
	return shares
}

// Shares from the facts of the trade, there from memory: butt 45–50 %, neck
// and shoulder 20–25 %, bellies (with flank and shank) 25–30 %. A single hide
// strays, so each is allowed 5 points more and the mean 2.5: half the width of its own range.
func TestZonesOfSharedCaptures(t *testing.T) {
	var butt, front, belly, n float64
	for name, c := range readTruths(t) {
		outline := hide.Polygon{Outer: c.Outline}.Oriented()
		f, err := FindFrame(outline)
		require.NoError(t, err)
		s := checkZones(t, f, outline)
		t.Logf("%s: %v", name, s)
		b, fr, be := s[hide.Butt], s[hide.Neck]+s[hide.Shoulder], s[hide.Belly]+s[hide.Flank]+s[hide.Shank]
		assert.InDelta(t, 0.475, b, 0.075, name)
		assert.InDelta(t, 0.225, fr, 0.075, name)
		assert.InDelta(t, 0.275, be, 0.075, name)
		butt, front, belly, n = butt+b, front+fr, belly+be, n+1
	}
	t.Logf("mean: butt %.3f, neck and shoulder %.3f, bellies %.3f", butt/n, front/n, belly/n)
	assert.InDelta(t, 0.475, butt/n, 0.025)
	assert.InDelta(t, 0.225, front/n, 0.025)
	assert.InDelta(t, 0.275, belly/n, 0.025)
}

func TestZonesOfInventedHides(t *testing.T) {
	for seed := uint64(1000); seed < 1012; seed++ {
		h := inventHide(seed)
		f, err := FrameFrom([2]hide.Point{h.neck, h.tail}, h.side, h.outline)
		require.NoError(t, err)
		checkZones(t, f, h.outline)
	}
}

func TestZonesLeaveHolesOut(t *testing.T) {
	h := inventHide(1003)
	c := centroid(h.outline.Outer)
	h.outline.Holes = []hide.Ring{{c, {X: c.X, Y: c.Y + 20}, {X: c.X + 20, Y: c.Y + 20}, {X: c.X + 20, Y: c.Y}}}
	f, err := FindFrame(h.outline)
	require.NoError(t, err)
	checkZones(t, f, h.outline)
	var sum hide.MM2
	for _, z := range f.Zones() {
		sum += z.Geometry.Area()
	}
	assert.InDelta(t, float64(hide.Polygon{Outer: h.outline.Outer}.Area())-400, float64(sum), 0.01)
}

func TestUVAndAt(t *testing.T) {
	for seed := uint64(2000); seed < 2010; seed++ {
		h := inventHide(seed)
		f, err := FrameFrom([2]hide.Point{h.neck, h.tail}, h.side, h.outline)
		require.NoError(t, err)
		u, v := f.UV(h.neck)
		assert.InDeltaSlice(t, []float64{0, 0}, []float64{u, v}, 1e-9)
		u, v = f.UV(h.tail)
		assert.InDeltaSlice(t, []float64{1, 0}, []float64{u, v}, 1e-9)
		box, r := boxOf(h.outline.Outer), rand.New(rand.NewPCG(seed, 1))
		for range 300 {
			q := pointAt(between(r, box.MinX, box.MaxX), between(r, box.MinY, box.MaxY))
			u, v := f.UV(q)
			require.True(t, u >= 0 && u <= 1 && math.Abs(v) <= 1 && (!f.Side || v >= 0))
			if u > 0 && u < 1 && math.Abs(v) < 1 && v != 0 {
				assert.Less(t, float64(f.At(u, v).Distance(q)), 1e-6)
			} else if s, d := f.line.local(q); Contains(h.outline, q) && s > 0 && s < f.length && (!f.Side || d*f.mirror > 0) {
				// between two knots a ragged edge may reach past by a few millimetres
				assert.Less(t, float64(f.At(u, v).Distance(q)), 0.01*f.length, "clamped on the hide at %v", q)
			}
		}
	}
}

// Right is right as seen with the head up: a hide with its neck at the top
// of the table has positive v at greater x.
func TestRightIsRightWithTheHeadUp(t *testing.T) {
	outline := hide.Polygon{Outer: hide.Ring{pointAt(0, 0), pointAt(1000, 0), pointAt(1000, 2000), pointAt(0, 2000)}}
	f, err := FrameFrom([2]hide.Point{pointAt(500, 2000), pointAt(500, 0)}, false, outline)
	require.NoError(t, err)
	_, v := f.UV(pointAt(750, 1000))
	assert.InDelta(t, 0.5, v, 1e-9)
}

func TestFrameFaults(t *testing.T) {
	_, err := FindFrame(hide.Polygon{})
	require.ErrorIs(t, err, hide.NotMeasurable)
	_, err = FindFrame(hide.Polygon{Outer: hide.Ring{pointAt(0, 0), pointAt(1, 1), pointAt(2, 2)}})
	require.ErrorIs(t, err, hide.NotMeasurable)
	h := inventHide(1)
	for _, ends := range [][2]hide.Point{{h.neck, h.neck}, {h.neck, pointAt(math.NaN(), 0)}, {h.neck, pointAt(1e9, 0)}} {
		_, err = FrameFrom(ends, false, h.outline)
		require.ErrorIs(t, err, hide.Invalid)
	}
}
