package calibrate

import (
	"encoding/json"
	"image"
	"math"
	"os"
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/hide"
	"hidechart/pix"
)

// The same corners, projected by OpenCV, surveyed by us and by SciPy's least
// squares with a model of its own (testdata/survey_reference.py; versions in the
// file). SciPy weighs all corners alike, we lessen the weight of those beyond two
// deviations (13 %), so places may differ by a fifth of their uncertainty.
func TestSurveyAgainstSciPy(t *testing.T) {
	data, err := os.ReadFile("testdata/survey_reference.json")
	require.NoError(t, err)
	var ref struct {
		Size  [2]int  `json:"size_px"`
		Edge  float64 `json:"edge_mm"`
		Noise float64 `json:"noise_px"`
		Seen  []struct {
			Photo, Tag int
			Corners    [4][2]float64
		}
		Fitted map[int][2]float64 `json:"fitted_mm"`
		U      map[int][2]float64 `json:"u_mm"`
	}
	require.NoError(t, json.Unmarshal(data, &ref))
	photos := make([]SurveyPhoto, 5)
	for _, s := range ref.Seen {
		g := Sighting{ID: s.Tag, Good: [4]bool{true, true, true, true}}
		for k, c := range s.Corners {
			g.Corners[k], g.SD[k] = pix.Point{X: hide.PX(c[0]), Y: hide.PX(c[1])}, hide.PX(ref.Noise)
		}
		photos[s.Photo].Seen = append(photos[s.Photo].Seen, g)
	}
	s, err := SurveyTags(photos, image.Pt(ref.Size[0], ref.Size[1]), nil, DefaultSurveyParams(hide.MM(ref.Edge)))
	require.NoError(t, err)
	fitted := map[int]hide.Point{}
	for id, c := range ref.Fitted {
		fitted[id] = hide.Point{X: hide.MM(c[0]), Y: hide.MM(c[1])}
	}
	require.Len(t, s.Tags, len(fitted))
	for i, off := range offRigid(s, fitted) {
		u := ref.U[s.Tags[i].ID]
		both := math.Hypot(u[0], u[1])
		require.Less(t, off, 0.2*both, "tag %d", s.Tags[i].ID)
		ours := math.Hypot(float64(s.Tags[i].UX), float64(s.Tags[i].UY))
		require.InEpsilon(t, both, ours, 0.1, "tag %d", s.Tags[i].ID)
		t.Logf("tag %d: %.3f mm from SciPy's place, u %.3f mm, SciPy's %.3f mm", s.Tags[i].ID, off, ours, both)
	}
}
