package calibrate

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// Twice the standard uncertainty against the aim of 0.3 mm; the number asked for
// follows from u ~ 1/√n: 0.6 mm of 5 photographs needs four times as many.
func TestUnsurePlacesAskForPhotographs(t *testing.T) {
	tags := []SurveyTag{{ID: 2, UX: 0.1, UY: 0.14}, {ID: 5, UX: 0.3, UY: 0.1}}
	f, asked := unsurePlaces(tags, 5)
	require.True(t, asked)
	require.Equal(t, "unsure_places", f.Code)
	require.Contains(t, f.Text, "tags 5 are sure to 0.60 mm only")
	require.Contains(t, f.Text, "about 15 more photographs")
	_, asked = unsurePlaces(tags[:1], 5)
	require.False(t, asked)
}

// The survey's scale comes back from the rig file; a percentage written for a
// share is refused.
func TestScaleUOfTheRig(t *testing.T) {
	const head = "table: {width_mm: 3000, height_mm: 2000}\ntags:\n  family: tag36h11\n  edge_mm: 100\n  centres_mm: {0: [90, 90], 1: [2900, 90], 2: [90, 1900], 3: [2900, 1900]}\n"
	r, err := ParseRig([]byte(head + "  scale_u: 0.0002\n"))
	require.NoError(t, err)
	require.InDelta(t, 0.0002, r.ScaleU, 0)
	back, err := ParseRig(Survey{Rig: r}.YAML(""))
	require.Error(t, err) // no tags in the survey itself
	require.InDelta(t, 0.0002, back.ScaleU, 0)
	_, err = ParseRig([]byte(head + "  scale_u: 0.2\n"))
	require.ErrorContains(t, err, "tags.scale_u")
}
