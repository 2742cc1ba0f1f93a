package calibrate

import (
	"fmt"
	"image"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/hide"
	"hidechart/pix"
)

// gridRig has n tags round the border of a table of 3.3 × 2.6 m.
func gridRig(n int) Rig {
	r := Rig{Width: 3300, Height: 2600, TagEdge: 100, Centres: map[int]hide.Point{}}
	around := 2 * (3120.0 + 2420.0)
	for i := range n {
		d := around * float64(i) / float64(n)
		var p hide.Point
		switch {
		case d < 3120:
			p = hide.Point{X: hide.MM(90 + d), Y: 90}
		case d < 3120+2420:
			p = hide.Point{X: 3210, Y: hide.MM(90 + d - 3120)}
		case d < 2*3120+2420:
			p = hide.Point{X: hide.MM(3210 - (d - 3120 - 2420)), Y: 2510}
		default:
			p = hide.Point{X: 90, Y: hide.MM(2510 - (d - 2*3120 - 2420))}
		}
		r.Centres[i] = p
	}
	return r
}

// cornerRig has its four tags in the corners.
func cornerRig() Rig {
	r := gridRig(4)
	r.Centres = map[int]hide.Point{0: {X: 90, Y: 90}, 1: {X: 3210, Y: 90}, 2: {X: 3210, Y: 2510}, 3: {X: 90, Y: 2510}}
	return r
}

// someCamera is a camera above the table, varied as real ones are.
func someCamera(rnd *rand.Rand) View {
	var v View
	f := 6000 * (0.62 + 0.5*rnd.Float64())
	v.Camera = Camera{FX: f, FY: f * (1 + 0.002*rnd.NormFloat64()), CX: 2999.5 + 40*rnd.NormFloat64(), CY: 1999.5 + 40*rnd.NormFloat64(),
		K1: -0.15 + 0.25*rnd.Float64(), K2: 0.03 * rnd.NormFloat64(), P1: 3e-4 * rnd.NormFloat64(), P2: 3e-4 * rnd.NormFloat64(), Width: 6000, Height: 4000}
	down := [9]float64{1, 0, 0, 0, -1, 0, 0, 0, -1}
	v.R = product(rotation([3]float64{0.03 * rnd.NormFloat64(), 0.03 * rnd.NormFloat64(), 0.02 * rnd.NormFloat64()}), down)
	h := f * 3500 / 5700
	for i, m := range [3]float64{1650, 1300, 0} {
		for k := range 3 {
			v.T[k] -= v.R[3*k+i] * m
		}
	}
	v.T[2] += h
	return v
}

// sightings projects the rig's tags, each moved by tagMM, with corner noise.
func sightings(v View, rig Rig, rnd *rand.Rand, cornerPX, tagMM float64) []Sighting {
	var out []Sighting
	for _, id := range rig.IDs() {
		dx, dy := hide.MM(tagMM*rnd.NormFloat64()), hide.MM(tagMM*rnd.NormFloat64())
		s := Sighting{ID: id, Good: [4]bool{true, true, true, true}}
		for k, q := range rig.Corners(id) {
			p := v.Project(q.X+dx, q.Y+dy, 0)
			s.Corners[k] = pix.Point{X: p.X + hide.PX(cornerPX*rnd.NormFloat64()), Y: p.Y + hide.PX(cornerPX*rnd.NormFloat64())}
			s.SD[k] = hide.PX(max(cornerPX, 0.01))
		}
		out = append(out, s)
	}
	return out
}

var frame = image.Pt(6000, 4000)

func newRand(seed uint64) *rand.Rand { return rand.New(rand.NewPCG(seed, 1)) }

func TestProjectAndGroundAreInverse(t *testing.T) {
	rnd := newRand(1)
	for range 50 {
		v := someCamera(rnd)
		for range 20 {
			x, y, z := hide.MM(3300*rnd.Float64()), hide.MM(2600*rnd.Float64()), hide.MM(20*rnd.Float64())
			g := v.Ground(v.Project(x, y, z), z)
			require.InDelta(t, float64(x), float64(g.X), 1e-6)
			require.InDelta(t, float64(y), float64(g.Y), 1e-6)
		}
	}
}

// Exact corners give the exact plane, whatever the camera.
func TestSolveExact(t *testing.T) {
	rnd := newRand(2)
	for i := range 10 {
		v := someCamera(rnd)
		rig := gridRig(16)
		got, fit, err := Solve(rig, frame, sightings(v, rig, rnd, 0, 0), nil, DefaultParams())
		require.NoError(t, err)
		mean, worst, _ := planeError(v, got, 90, 90, 3210, 2510)
		// the priors pull a camera that is two deviations out by this much: under a
		// twentieth of a pixel
		require.Less(t, mean, 0.03, "camera %d", i)
		require.Less(t, worst, 0.08, "camera %d", i)
		require.Less(t, fit.RMSPX, 0.05)
	}
}

// Over many cameras the area's error stays within twice its stated uncertainty
// about as often as a normal one would (JCGM 100:2008, 6.3.3: 95 %), for few tags
// and many, for exact rigs and taped ones.
func TestAreaUncertaintyCovers(t *testing.T) {
	if testing.Short() {
		t.Skip("240 fits")
	}
	hull := hide.Polygon{Outer: hide.Ring{{X: 400, Y: 300}, {X: 2900, Y: 300}, {X: 2900, Y: 2300}, {X: 400, Y: 2300}}}
	for _, c := range []struct {
		rig   Rig
		tagMM float64
	}{{cornerRig(), 0}, {cornerRig(), 0.3}, {gridRig(8), 0.3}, {gridRig(16), 0}, {gridRig(16), 0.3}, {gridRig(16), 1}} {
		const runs = 40
		rnd := newRand(7)
		in, rms, us := 0, 0.0, 0.0
		height := 0
		for range runs {
			v := someCamera(rnd)
			got, fit, err := Solve(c.rig, frame, sightings(v, c.rig, rnd, 0.05, c.tagMM), nil, DefaultParams())
			require.NoError(t, err)
			_, _, area := planeError(v, got, 400, 300, 2900, 2300)
			u := fit.AreaU(hull)
			if math.Abs(area) <= 2*u {
				in++
			}
			rms, us = rms+area*area/runs, us+u/runs
			if math.Abs(got.Centre()[2]/v.Centre()[2]-1) <= 2*fit.HeightU {
				height++
			}
		}
		t.Logf("%2d tags placed to %.1f mm: area error rms %.4f %%, stated u %.4f %%, within 2u %d, height %d of %d",
			len(c.rig.Centres), c.tagMM, 100*math.Sqrt(rms), 100*us, in, height, runs)
		require.GreaterOrEqual(t, in, runs*85/100, "%d tags, %g mm", len(c.rig.Centres), c.tagMM)
		require.GreaterOrEqual(t, height, runs*85/100, "%d tags, %g mm", len(c.rig.Centres), c.tagMM)
	}
}

func TestFewTagsCost(t *testing.T) {
	rnd := newRand(3)
	v := someCamera(rnd)
	hull := hide.Polygon{Outer: hide.Ring{{X: 400, Y: 300}, {X: 2900, Y: 300}, {X: 2900, Y: 2300}, {X: 400, Y: 2300}}}
	_, four, err := Solve(cornerRig(), frame, sightings(v, cornerRig(), rnd, 0.05, 0.2), nil, DefaultParams())
	require.NoError(t, err)
	_, sixteen, err := Solve(gridRig(16), frame, sightings(v, gridRig(16), rnd, 0.05, 0.2), nil, DefaultParams())
	require.NoError(t, err)
	t.Logf("u of the area: 4 tags %.4f %%, 16 tags %.4f %%", 100*four.AreaU(hull), 100*sixteen.AreaU(hull))
	require.Greater(t, four.AreaU(hull), 1.5*sixteen.AreaU(hull))
	require.Equal(t, "few_tags", four.Flags[0].Code)
}

func TestMovedTagIsNamedAndLeftOut(t *testing.T) {
	for _, mm := range []float64{4, 20, 90} {
		rnd := newRand(uint64(mm))
		v, rig := someCamera(rnd), gridRig(12)
		seen := sightings(v, rig, rnd, 0.05, 0.1)
		moved := rig.Corners(5)
		for k, q := range moved {
			seen[5].Corners[k] = v.Project(q.X+hide.MM(mm*0.8), q.Y-hide.MM(mm*0.6), 0)
		}
		got, fit, err := Solve(rig, frame, seen, nil, DefaultParams())
		require.NoError(t, err)
		require.Equal(t, []int{5}, fit.Moved, "%g mm", mm)
		require.Equal(t, 11, fit.Inliers)
		require.InDelta(t, mm, float64(fit.Tags[5].ResidualMM), 0.4)
		_, worst, _ := planeError(v, got, 90, 90, 3210, 2510)
		require.Less(t, worst, 0.6)
		require.True(t, hasFlag(fit, "tag_moved", fmt.Sprintf("tag 5 lies %.1f mm", float64(fit.Tags[5].ResidualMM))))
	}
}

func hasFlag(f Fit, code, text string) bool {
	for _, g := range f.Flags {
		if g.Code == code && len(g.Text) >= len(text) && g.Text[:len(text)] == text {
			return true
		}
	}
	return false
}

func TestSolveFailures(t *testing.T) {
	rnd := newRand(4)
	v, rig := someCamera(rnd), gridRig(8)
	seen := sightings(v, rig, rnd, 0.05, 0)
	fails := func(seen []Sighting, words ...string) {
		t.Helper()
		_, _, err := Solve(rig, frame, seen, nil, DefaultParams())
		require.ErrorIs(t, err, hide.NotMeasurable)
		for _, w := range words {
			require.ErrorContains(t, err, w)
		}
		t.Log(err)
	}
	fails(nil, "no tags seen")
	fails(seen[:3], "only 3", "0, 1, 2", "at least 4")
	foreign := sightings(v, rig, rnd, 0.05, 0)
	for i := range foreign {
		foreign[i].ID += 100
	}
	fails(foreign, "100, 101", "rig.yaml")
	fails(append(foreign[:2:2], seen[:2]...), "only 2", "not in rig.yaml: 100, 101")

	scattered := sightings(v, rig, rnd, 0.05, 40)
	fails(scattered, "contradict", "mm", "tag 3")
	swapped := append([]Sighting{}, seen...)
	for i := range swapped {
		swapped[i].Corners = seen[(i*3+1)%len(seen)].Corners
	}
	fails(swapped, "rig.yaml")

	// one of four: the other three are too few to go on with
	four := sightings(v, cornerRig(), rnd, 0.05, 0)
	for k, q := range cornerRig().Corners(2) {
		four[2].Corners[k] = v.Project(q.X+25, q.Y+10, 0)
	}
	_, _, err := Solve(cornerRig(), frame, four, nil, DefaultParams())
	require.ErrorIs(t, err, hide.NotMeasurable)
	require.ErrorContains(t, err, "rig.yaml: tag 2 by 2")
	t.Log(err)
}

func TestHiddenAndUnknownTagsAreFlagged(t *testing.T) {
	rnd := newRand(5)
	v, rig := someCamera(rnd), gridRig(12)
	seen := sightings(v, rig, rnd, 0.05, 0)
	extra := seen[3]
	extra.ID = 99
	_, fit, err := Solve(rig, frame, append(seen[:10:10], extra), nil, DefaultParams())
	require.NoError(t, err)
	require.True(t, hasFlag(fit, "tag_hidden", "tags of rig.yaml in the picture but not seen: 10, 11"))
	require.True(t, hasFlag(fit, "tag_unknown", "tags seen that rig.yaml does not list: 99"))
}

// A lens file fixes the focal length, which the tags alone hardly see, and with
// it the camera's height, which the leather's parallax needs.
func TestLensFileFixesTheHeight(t *testing.T) {
	rnd := newRand(6)
	for range 5 {
		v, rig := someCamera(rnd), gridRig(12)
		seen := sightings(v, rig, rnd, 0.05, 0.1)
		c := v.Camera
		lens := Lens{Camera: c, U: LensTerms{FX: 3, FY: 3, CX: 2, CY: 2, K1: 1e-3, K2: 2e-3, P1: 5e-5, P2: 5e-5}}
		got, fit, err := Solve(rig, frame, seen, &lens, DefaultParams())
		require.NoError(t, err)
		require.InDelta(t, 1, got.Centre()[2]/v.Centre()[2], 0.003)
		require.False(t, hasFlag(fit, "lens_from_tags", ""))
		half := lens
		half.Camera = c.scaled(3000, 2000)
		again, _, err := Solve(rig, frame, seen, &half, DefaultParams())
		require.NoError(t, err)
		require.InDelta(t, got.Centre()[2], again.Centre()[2], 10)
	}
	other := Lens{Camera: Camera{FX: 4000, FY: 4000, CX: 2000, CY: 2000, Width: 4000, Height: 4000}}
	v, rig := someCamera(rnd), gridRig(12)
	_, _, err := Solve(rig, frame, sightings(v, rig, rnd, 0.05, 0), &other, DefaultParams())
	require.ErrorIs(t, err, hide.NotMeasurable)
	require.ErrorContains(t, err, "4000 × 4000")
}
