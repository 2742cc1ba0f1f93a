package calibrate

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/hide"
)

const rigText = `table: {width_mm: 3300, height_mm: 2600}
tags:
  family: tag36h11
  edge_mm: 100
  centres_mm: {0: [90.0, 2510.0], 1: [714.0, 2510.0], 4: [90, 90], 7: [3210, 90]}
  turns_deg: {4: 90}
lens: lens.yaml
plane_offset_mm: 1.5
`

func TestParseRig(t *testing.T) {
	r, err := ParseRig([]byte(rigText))
	require.NoError(t, err)
	require.Equal(t, []int{0, 1, 4, 7}, r.IDs())
	require.Equal(t, "lens.yaml", r.Lens)
	require.InDelta(t, 1.5, float64(r.PlaneOffset), 0)
	require.Equal(t, [4]hide.Point{{X: 40, Y: 2460}, {X: 140, Y: 2460}, {X: 140, Y: 2560}, {X: 40, Y: 2560}}, r.Corners(0))
	c := r.Corners(4) // a quarter turn counter-clockwise: the first corner comes to lie near right
	require.InDelta(t, 140, float64(c[0].X), 1e-9)
	require.InDelta(t, 40, float64(c[0].Y), 1e-9)
	p := r.TagPolygons(5)
	require.Len(t, p, 4)
	require.InDelta(t, (125+10)*(125+10), float64(p[0].Outer.SignedArea()), 1e-6)
}

func TestParseRigRefuses(t *testing.T) {
	for name, c := range map[string]struct{ from, to, word string }{
		"unknown key":   {"lens:", "lense:", `unknown key "lense"`},
		"nested key":    {"edge_mm", "size_mm", `unknown key "size_mm"`},
		"repeated key":  {"lens: lens.yaml", "lens: a\nlens: b", "lens"},
		"family":        {"tag36h11", "tag16h5", "tag16h5"},
		"three tags":    {", 7: [3210, 90]", "", "3 tags"},
		"one number":    {"[3210, 90]", "[3210]", "tag 7"},
		"unknown id":    {"7: [3210", "999: [3210", "tag 999"},
		"turn of none":  {"{4: 90}", "{5: 90}", "tag 5 has no centre"},
		"metres":        {"width_mm: 3300", "width_mm: 3.3", "table.width_mm"},
		"overlap":       {"[714.0, 2510.0]", "[120.0, 2510.0]", "overlap"},
		"not a number":  {"[714.0, 2510.0]", "[.nan, 2510.0]", "tag 1"},
		"text":          {"edge_mm: 100", "edge_mm: wide", "line 4"},
		"two documents": {"plane_offset_mm: 1.5\n", "---\na: 1\n", "more than one"},
	} {
		require.Contains(t, rigText, c.from, name)
		_, err := ParseRig([]byte(strings.Replace(rigText, c.from, c.to, 1)))
		require.ErrorIs(t, err, hide.Invalid, name)
		require.ErrorContains(t, err, c.word, name)
		require.NotContains(t, err.Error(), "calibrate.", name)
	}
	_, err := ParseRig(nil)
	require.ErrorContains(t, err, "empty")
}

func FuzzParseRig(f *testing.F) {
	f.Add([]byte(rigText))
	f.Fuzz(func(t *testing.T, data []byte) {
		r, err := ParseRig(data)
		if err != nil {
			require.ErrorIs(t, err, hide.Invalid)
			return
		}
		require.NoError(t, r.Validate())
		require.GreaterOrEqual(t, len(r.TagPolygons(0)), leastTags)
	})
}

func TestParseLens(t *testing.T) {
	file := LensFile{SizePX: [2]int{6000, 4000}, Terms: LensTerms{FX: 4300, FY: 4310, CX: 3010, CY: 1990, K1: -0.1, K3: 0.01}, U: LensTerms{FX: 3, FY: 3}}
	data, err := file.Encode()
	require.NoError(t, err)
	l, err := ParseLens(data)
	require.NoError(t, err)
	require.Equal(t, Camera{FX: 4300, FY: 4310, CX: 3010, CY: 1990, K1: -0.1, K3: 0.01, Width: 6000, Height: 4000}, l.Camera)
	require.InDelta(t, 3, l.U.FX, 0)
	for _, c := range [][2]string{{"fx: 4300", "fx: 43"}, {"cx: 3010", "cx: -5"}, {"k1:", "kay:"}, {"6000", "0"}} {
		require.Contains(t, string(data), c[0])
		_, err := ParseLens([]byte(strings.Replace(string(data), c[0], c[1], 1)))
		require.ErrorIs(t, err, hide.Invalid, c[1])
	}
}
