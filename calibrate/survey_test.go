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
	for run := range 5 {
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
