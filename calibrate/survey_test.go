package calibrate

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/hide"
)

// surveyRig has tags glued anywhere on 3.3 × 2.6 m, turned anyhow.
func surveyRig(n int, rnd *rand.Rand) Rig {
	r := gridRig(n)
	r.TurnsDeg = map[int]float64{}
	for _, id := range r.IDs() {
		c := r.Centres[id]
		r.Centres[id] = hide.Point{X: c.X + hide.MM(40*rnd.NormFloat64()), Y: c.Y + hide.MM(40*rnd.NormFloat64())}
		r.TurnsDeg[id] = 360*rnd.Float64() - 180
	}
	r.TurnsDeg[0] = 0
	return r
}

// around are cameras with one lens at n places round and above the table, each
// looking at a point near its middle.
func around(n int, rnd *rand.Rand) []View {
	lens := someCamera(rnd).Camera
	var out []View
	for i := range n {
		tilt := 0.15 + 0.5*rnd.Float64()
		if i == 0 {
			tilt = 0
		}
		turn := 2 * math.Pi * (float64(i) + 0.5*rnd.Float64()) / float64(n)
		down := [9]float64{1, 0, 0, 0, -1, 0, 0, 0, -1}
		roll := rotation([3]float64{0, 0, 0.3 * rnd.NormFloat64()})
		lean := rotation([3]float64{tilt * math.Cos(turn), tilt * math.Sin(turn), 0})
		v := View{Camera: lens, R: product(roll, product(lean, down))}
		h := lens.FX * 3500 / 5700 * (1 + 0.2*rnd.Float64())
		for a, m := range [3]float64{1650 + 100*rnd.NormFloat64(), 1300 + 100*rnd.NormFloat64(), 0} {
			for k := range 3 {
				v.T[k] -= v.R[3*k+a] * m
			}
		}
		v.T[2] += h
		out = append(out, v)
	}
	return out
}

// shown are the tags wholly in a photograph.
func shown(v View, rig Rig, rnd *rand.Rand, noise float64) []Sighting {
	var out []Sighting
	for _, s := range sightings(v, rig, rnd, noise, 0) {
		in := true
		for _, c := range s.Corners {
			in = in && c.X > 20 && c.Y > 20 && c.X < 5980 && c.Y < 3980
		}
		if in {
			out = append(out, s)
		}
	}
	return out
}

func surveyed(rig Rig, n int, rnd *rand.Rand, noise float64) []SurveyPhoto {
	var photos []SurveyPhoto
	for i, v := range around(n, rnd) {
		photos = append(photos, SurveyPhoto{Name: string(rune('a' + i)), Seen: shown(v, rig, rnd, noise)})
	}
	return photos
}

// offRigid are the distances of the surveyed centres from the true ones after
// the best turn and shift (no scaling), by Procrustes.
func offRigid(got Survey, want map[int]hide.Point) []float64 {
	var ma, mb [2]float64
	n := float64(len(got.Tags))
	for _, t := range got.Tags {
		w := want[t.ID]
		ma[0], ma[1] = ma[0]+float64(t.Centre.X)/n, ma[1]+float64(t.Centre.Y)/n
		mb[0], mb[1] = mb[0]+float64(w.X)/n, mb[1]+float64(w.Y)/n
	}
	var dot, cr float64
	for _, t := range got.Tags {
		w := want[t.ID]
		ax, ay, bx, by := float64(t.Centre.X)-ma[0], float64(t.Centre.Y)-ma[1], float64(w.X)-mb[0], float64(w.Y)-mb[1]
		dot, cr = dot+ax*bx+ay*by, cr+ax*by-ay*bx
	}
	sin, cos := math.Sincos(math.Atan2(cr, dot))
	var out []float64
	for _, t := range got.Tags {
		w := want[t.ID]
		ax, ay := float64(t.Centre.X)-ma[0], float64(t.Centre.Y)-ma[1]
		out = append(out, math.Hypot(cos*ax-sin*ay+mb[0]-float64(w.X), sin*ax+cos*ay+mb[1]-float64(w.Y)))
	}
	return out
}

func worst(v []float64) float64 {
	m := 0.0
	for _, x := range v {
		m = max(m, x)
	}
	return m
}

// Tags anywhere, six photographs, corners with 0.05 px of noise, one bar of
// known length: centres within 0.3 mm over 3 m (the aim of the survey).
func TestSurveySynthetic(t *testing.T) {
	rnd := newRand(11)
	for run := range 3 {
		rig := surveyRig(16, rnd)
		p := DefaultSurveyParams(100)
		p.Known = []KnownLength{{A: 0, B: 9, Length: rig.Centres[0].Distance(rig.Centres[9]), U: 0.1}}
		photos := surveyed(rig, 6, rnd, 0.05)
		s, err := SurveyTags(photos, frame, nil, p)
		require.NoError(t, err)
		require.Len(t, s.Tags, 16)
		off := worst(offRigid(s, rig.Centres))
		require.Less(t, off, 0.3, "run %d", run)
		t.Logf("worst %.3f mm, u %.3f, rms %.3f px, flat %.2f", off, s.Rig.CentreU, s.RMSPX, s.Flat)
		again, err := ParseRig(s.YAML(""))
		require.NoError(t, err, string(s.YAML("")))
		require.Equal(t, s.Rig, again)
	}
}

// The stated uncertainties are true: over many tables the squared errors over the
// stated variances (places after removing the best turn and shift, known length
// exact) average to one, within what 6 runs of 12 tags allow.
func TestSurveyUncertainty(t *testing.T) {
	rnd := newRand(5)
	var sum, n float64
	for range 6 {
		rig := surveyRig(12, rnd)
		p := DefaultSurveyParams(100)
		p.Known = []KnownLength{{A: 0, B: 6, Length: rig.Centres[0].Distance(rig.Centres[6]), U: 0.001}}
		s, err := SurveyTags(surveyed(rig, 5, rnd, 0.05), frame, nil, p)
		require.NoError(t, err)
		for i, off := range offRigid(s, rig.Centres) {
			u := s.Tags[i]
			sum += off * off / float64(u.UX*u.UX+u.UY*u.UY)
			n++
		}
	}
	t.Logf("mean squared error over stated variance %.2f", sum/n)
	// errors within a run hang together (lens, scale), so 72 tags count as about 12
	// values of chi-square with two degrees: 1 ± 0.29
	require.InDelta(t, 1, sum/n, 3*0.29)
}

// Without a known length the scale is the edge's: a print 0.2 % too large makes
// the table 0.2 % too small, and the stated scale uncertainty says 0.1 %.
func TestSurveyScaleFromEdge(t *testing.T) {
	rnd := newRand(6)
	rig := surveyRig(12, rnd)
	photos := surveyed(rig, 5, rnd, 0.02)
	s, err := SurveyTags(photos, frame, nil, DefaultSurveyParams(99.8))
	require.NoError(t, err)
	a, b := s.Tags[0], s.Tags[len(s.Tags)/2]
	truth, got := rig.Centres[a.ID].Distance(rig.Centres[b.ID]), a.Centre.Distance(b.Centre)
	require.InDelta(t, 0.998, float64(got/truth), 2e-4)
	require.InDelta(t, 0.1/99.8, s.ScaleU, 2e-4)
	require.Contains(t, codes(s), "scale_from_edge")
}

func codes(s Survey) []string {
	var out []string
	for _, f := range s.Flags {
		out = append(out, f.Code)
	}
	return out
}

// A tag that was moved by 5 mm before the last photograph is left out of it and
// named; the others stay right.
func TestSurveyMovedTag(t *testing.T) {
	rnd := newRand(7)
	rig := surveyRig(14, rnd)
	p := DefaultSurveyParams(100)
	p.Known = []KnownLength{{A: 0, B: 7, Length: rig.Centres[0].Distance(rig.Centres[7]), U: 0.1}}
	var photos []SurveyPhoto
	moved := 0
	for i, v := range around(6, rnd) {
		seen := shown(v, rig, rnd, 0.05)
		if i == 5 {
			moved = seen[2].ID
			for k, q := range rig.Corners(moved) {
				seen[2].Corners[k] = v.Project(q.X+5, q.Y, 0)
			}
		}
		photos = append(photos, SurveyPhoto{Name: string(rune('a' + i)), Seen: seen})
	}
	s, err := SurveyTags(photos, frame, nil, p)
	require.NoError(t, err)
	require.Equal(t, []int{moved}, s.Photos[5].Dropped)
	require.Contains(t, codes(s), "tag_moved")
	require.Less(t, worst(offRigid(s, rig.Centres)), 0.3)
}

// A tag on a 6 mm block is reported as off the plane.
func TestSurveyNotFlat(t *testing.T) {
	rnd := newRand(8)
	rig := surveyRig(12, rnd)
	var photos []SurveyPhoto
	for i, v := range around(6, rnd) {
		seen := shown(v, rig, rnd, 0.03)
		for j := range seen {
			if seen[j].ID == 3 {
				for k, q := range rig.Corners(3) {
					seen[j].Corners[k] = v.Project(q.X, q.Y, 6)
				}
			}
		}
		photos = append(photos, SurveyPhoto{Name: string(rune('a' + i)), Seen: seen})
	}
	s, err := SurveyTags(photos, frame, nil, DefaultSurveyParams(100))
	require.NoError(t, err)
	for _, tag := range s.Tags {
		if tag.ID == 3 {
			require.InDelta(t, 6, float64(tag.Height), 1) // the plane of all tags takes part of it
		}
	}
	require.Contains(t, codes(s), "not_flat")
}

// What cannot be surveyed is refused with words that say what to do.
func TestSurveyRefuses(t *testing.T) {
	rnd := newRand(9)
	rig := surveyRig(12, rnd)
	photos := surveyed(rig, 3, rnd, 0.05)
	p := DefaultSurveyParams(100)
	apart := []SurveyPhoto{{Name: "left.jpg"}, {Name: "right.jpg"}}
	for _, s := range photos[0].Seen {
		apart[s.ID%2].Seen = append(apart[s.ID%2].Seen, s)
	}
	_, err := SurveyTags(apart, frame, nil, p)
	require.ErrorIs(t, err, hide.NotMeasurable)
	require.ErrorContains(t, err, "left.jpg (tags 0, 2, 4")
	require.ErrorContains(t, err, "right.jpg (tags 1, 3, 5")

	_, err = SurveyTags([]SurveyPhoto{photos[0], {Name: "blank"}}, frame, nil, p)
	require.ErrorIs(t, err, hide.Invalid)
	s, err := SurveyTags(append([]SurveyPhoto{{Name: "blank"}}, photos...), frame, nil, p)
	require.NoError(t, err)
	require.Contains(t, codes(s), "no_tags")

	double := []SurveyPhoto{photos[0], {Name: "b", Seen: append(photos[1].Seen[:1:1], photos[1].Seen...)}}
	_, err = SurveyTags(double, frame, nil, p)
	require.ErrorIs(t, err, hide.Invalid)
	require.ErrorContains(t, err, "more than once")

	_, err = SurveyTags(photos[:1], frame, nil, p)
	require.ErrorIs(t, err, hide.Invalid)

	p.Known = []KnownLength{{A: 0, B: 99, Length: 100, U: 1}}
	_, err = SurveyTags(photos, frame, nil, p)
	require.ErrorContains(t, err, "tag 99")

	d := rig.Centres[0].Distance(rig.Centres[6])
	p.Known = []KnownLength{{A: 0, B: 6, Length: d, U: 0.2}, {A: 1, B: 7, Length: 1.1 * rig.Centres[1].Distance(rig.Centres[7]), U: 0.2}}
	_, err = SurveyTags(photos, frame, nil, p)
	require.ErrorContains(t, err, "contradicts")

	p.Known = []KnownLength{{A: 0, B: 0, Length: 1, U: 0}}
	require.ErrorIs(t, p.Validate(), hide.Invalid)
}

// The frame is the one asked for.
func TestSurveyFrame(t *testing.T) {
	rnd := newRand(10)
	rig := surveyRig(12, rnd)
	p := DefaultSurveyParams(100)
	first := 2
	at := hide.Point{X: 500, Y: 90}
	p.Frame = SurveyFrame{First: &first, At: &at, Along: &[2]int{0, 3}, Width: 3300, Height: 2600}
	s, err := SurveyTags(surveyed(rig, 4, rnd, 0.05), frame, nil, p)
	require.NoError(t, err)
	require.InDelta(t, 500, float64(s.Tags[2].Centre.X), 1e-9)
	require.InDelta(t, 90, float64(s.Tags[2].Centre.Y), 1e-9)
	require.InDelta(t, float64(s.Tags[0].Centre.Y), float64(s.Tags[3].Centre.Y), 1e-9)
	require.InDelta(t, 3300, float64(s.Rig.Width), 0)
	// the views agree with the frame: corners project to where they were seen
	for i, v := range s.Photos {
		require.Less(t, math.Abs(v.RMSPX-s.RMSPX), 0.05, "%d", i)
		c := v.View.Centre()
		require.Greater(t, c[2], 1000.0)
	}
}
