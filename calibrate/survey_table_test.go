package calibrate

import (
	"os"
	"slices"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/hide"
)

// cornerNoise is what tag corners are off by in each direction, px of a
// photograph of any size: what TestSurveyRendered leaves, through JPEG, at 1,800 px.
const cornerNoise = 0.024

// surveyTrials are surveys of random tables, cameras and corners.
type surveyTrials struct {
	off, stated []float64 // of each: the tag farthest off, mm; the largest 2u of a coordinate
	squares, n  float64   // squared errors over stated variances, and their number
	asked       int       // surveys that asked for more photographs
}

// trySurveys runs surveys with so many tags and photographs of a width.
func trySurveys(t *testing.T, runs, tags, photographs, width int, withLens bool) surveyTrials {
	t.Helper()
	rnd := newRand(uint64(1000*tags + width))
	var out surveyTrials
	for len(out.off) < runs {
		rig := surveyRig(tags, rnd)
		views := around(photographs, rnd)
		var photos []SurveyPhoto
		for i, v := range views {
			// frame is 6,000 px wide: corners of a smaller photograph are off by more of its pixels
			photos = append(photos, SurveyPhoto{Name: string(rune('a' + i)), Seen: shown(v, rig, rnd, cornerNoise*6000/float64(width))})
		}
		p := DefaultSurveyParams(100)
		a, b := 0, tags/2
		p.Known = []KnownLength{{A: a, B: b, Length: rig.Centres[a].Distance(rig.Centres[b]), U: 0.1}}
		var lens *Lens
		if withLens { // as sure as a chessboard makes it
			lens = &Lens{Camera: views[0].Camera, U: LensTerms{FX: 3, FY: 3, CX: 2, CY: 2, K1: 1e-3, K2: 2e-3, P1: 5e-5, P2: 5e-5}}
		}
		s, err := SurveyTags(photos, frame, lens, p)
		if err != nil { // a table whose end no photograph shows
			require.ErrorIs(t, err, hide.NotMeasurable)
			continue
		}
		off, stated := offRigid(s, rig.Centres), 0.0
		for i, tag := range s.Tags {
			stated = max(stated, sureDeviations*float64(max(tag.UX, tag.UY)))
			out.squares += off[i] * off[i] / float64(tag.UX*tag.UX+tag.UY*tag.UY)
			out.n++
		}
		if slices.ContainsFunc(s.Flags, func(f hide.Flag) bool { return f.Code == "unsure_places" }) {
			out.asked++
		}
		out.off, out.stated = append(out.off, worst(off)), append(out.stated, stated)
	}
	return out
}

// Eight tags, the fewest that are advised, in six photographs of 12 megapixels: places within
// the aim of 0.3 mm, the stated uncertainty true.
func TestSurveyOfFewTags(t *testing.T) {
	r := trySurveys(t, 6, 8, 6, 4000, false)
	t.Logf("off %.3f mm, at most %.3f; stated 2u %.3f, at most %.3f; squares over variances %.2f", median(r.off), worst(r.off), median(r.stated), worst(r.stated), r.squares/r.n)
	require.Less(t, median(r.off), aimMM)
	require.Less(t, worst(r.off), 2*aimMM) // a tag that two photographs show only; it is told
	require.InDelta(t, 1, r.squares/r.n, 3*0.29)
}

// The table of docs/rig.md: HIDECHART_SURVEYS=30 go test
// ./calibrate -run TestSurveyTable -v -timeout 1h
func TestSurveyTable(t *testing.T) {
	runs, _ := strconv.Atoi(os.Getenv("HIDECHART_SURVEYS"))
	if runs < 1 {
		t.Skip("HIDECHART_SURVEYS says how many surveys of each kind are tried")
	}
	row := func(tags, photographs, width int, lens bool) {
		r := trySurveys(t, runs, tags, photographs, width, lens)
		t.Logf("| %d | %d | %d | %t | %.2f / %.2f | %.2f / %.2f | %.2f | %d of %d |", tags, photographs, width, lens,
			median(r.off), worst(r.off), median(r.stated), worst(r.stated), r.squares/r.n, r.asked, runs)
	}
	for _, tags := range []int{8, 12, 16} {
		row(tags, 6, 1800, false)
	}
	row(8, 6, 4000, false)
	row(8, 12, 1800, false)
	row(8, 6, 1800, true)
}
