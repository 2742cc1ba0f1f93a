package calibrate

import (
	"encoding/json"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/hide"
)

// A reference capture, rendered by another program: two photographs from one
// place straight above, with the camera of its camera.json as a lens file. Even this
// poorest of surveys finds the places of rig.yaml within 0.3 mm over 4 m.
func TestSurveyReferenceCapture(t *testing.T) {
	if testing.Short() {
		t.Skip("two photographs of 24 megapixels")
	}
	dir := filepath.Join("..", "..", "shared", "captures", "whole-wetblue")
	data, err := os.ReadFile(filepath.Join(dir, "camera.json"))
	if err != nil && os.Getenv("CI") == "" {
		t.Skip("the reference captures are not beside this checkout")
	}
	require.NoError(t, err)
	var c struct {
		K [3][3]float64
		D [5]float64
	}
	require.NoError(t, json.Unmarshal(data, &c))
	lens := Lens{Camera: Camera{FX: c.K[0][0], FY: c.K[1][1], CX: c.K[0][2], CY: c.K[1][2],
		K1: c.D[0], K2: c.D[1], P1: c.D[2], P2: c.D[3], K3: c.D[4], Width: 6000, Height: 4000}}
	data, err = os.ReadFile(filepath.Join(dir, "rig.yaml"))
	require.NoError(t, err)
	rig, err := ParseRig(data)
	require.NoError(t, err)
	var photos []SurveyPhoto
	for _, name := range []string{"top.jpg", "empty.jpg"} {
		data, err := os.ReadFile(filepath.Join(dir, name))
		require.NoError(t, err)
		photo, _ := seenInJPEG(t, name, data)
		photos = append(photos, photo)
	}
	p := DefaultSurveyParams(rig.TagEdge)
	p.Known = []KnownLength{{A: 0, B: 11, Length: rig.Centres[0].Distance(rig.Centres[11]), U: hide.MM(0.1)}}
	s, err := SurveyTags(photos, frame, &lens, p)
	require.NoError(t, err)
	require.Len(t, s.Tags, len(rig.Centres))
	off := worst(offRigid(s, rig.Centres))
	t.Logf("worst %.3f mm, stated u %.3f mm, residuals %.3f px", off, s.Rig.CentreU, s.RMSPX)
	require.Less(t, off, 0.3)
}
