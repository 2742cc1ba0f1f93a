package calibrate

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/hide"
	"hidechart/pix"
)

// Under another light of a capture whose camera stood still the tags are found
// again where they were, to the search's own result; from places 3 px off they
// are found too, at their true places, and from 40 px off not at all.
func TestTagsAgain(t *testing.T) {
	rig := captureRig(t, "whole-wetblue")
	top := linearGrey(t, captureFile(t, "whole-wetblue", "top.jpg"))
	seen, err := FindTags(top, rig)
	require.NoError(t, err)
	codes, err := pix.Decode(captureFile(t, "whole-wetblue", "rake-n.jpg"), pix.DefaultLimits())
	require.NoError(t, err)
	rake, err := pix.NewExposure(codes)
	require.NoError(t, err)
	defer rake.Close()
	grey := rake.Grey()
	defer grey.Close()
	searched, err := FindTags(grey, rig)
	require.NoError(t, err)
	for _, off := range []float64{0, 3, 40} {
		from := make([]Sighting, len(seen))
		for i, s := range seen {
			for k := range s.Corners {
				s.Corners[k].X += hide.PX(off)
			}
			from[i] = s
		}
		again := TagsAgain(rake, from, 6)
		d, n := cornersApart(searched, again)
		t.Logf("from %g px off: %d corners, %.3f px from the search", off, n, d)
		if off > 10 {
			// what is taken for an edge there lies far from the old place
			far, _ := cornersApart(from, again)
			require.True(t, len(again) < 4 || math.Abs(far) > 0.3) // what counts as not moved
			continue
		}
		require.GreaterOrEqual(t, n, 16)
		require.Less(t, d, 0.05)
	}
}

// cornersApart is the median distance of the good corners that two photographs share.
func cornersApart(a, b []Sighting) (px float64, common int) {
	var d []float64
	for _, s := range a {
		for _, t := range b {
			for k := range s.Corners {
				if s.ID == t.ID && s.Good[k] && t.Good[k] {
					d = append(d, math.Hypot(float64(s.Corners[k].X-t.Corners[k].X), float64(s.Corners[k].Y-t.Corners[k].Y)))
				}
			}
		}
	}
	return median(d), len(d)
}
