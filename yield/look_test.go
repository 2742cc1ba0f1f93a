package yield

import (
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"hidechart/hide"
	"hidechart/plane"
)

func TestLooksThatShip(t *testing.T) {
	require.Equal(t, []string{"classic", "rustic"}, LookNames())
	for _, n := range LookNames() {
		l, err := FindLook(n)
		require.NoError(t, err)
		require.Equal(t, n, l.Name)
		require.Len(t, l.Kinds, len(hide.Kinds()), "every kind is named")
	}
}

// What a rustic look leaves is never less than what a classic one leaves: as
// a region, and in every drawing of what is real.
func TestRusticIsNeverBelowClassic(t *testing.T) {
	classic, err := FindLook("classic")
	require.NoError(t, err)
	rustic, err := FindLook("rustic")
	require.NoError(t, err)
	p := DefaultParams()
	p.Samples = 50
	rapid.Check(t, func(t *rapid.T) {
		chart := inventedHide(t)
		strict, err := Cuttable(chart, classic, p)
		require.NoError(t, err)
		mild, err := Cuttable(chart, rustic, p)
		require.NoError(t, err)
		lost, err := plane.Difference(strict.Region, mild.Region)
		require.NoError(t, err)
		require.InDelta(t, 0, float64(lost.Area()), 0.01, "mm²: rounding of vertices along the edges")
		const round = 0.01 // mm², likewise
		require.GreaterOrEqual(t, float64(mild.Area), float64(strict.Area)-round)
		// the same candidates are real in both looks' drawings, and each drawing is cut by
		// polygons; a region may be put on a grid of 1e-4 mm (plane): 0.2 mm² along 2 m of
		// edge of 0.28 m²
		const rounding = 1e-6
		require.GreaterOrEqual(t, mild.CuttableShare.Median, strict.CuttableShare.Median-rounding)
		require.GreaterOrEqual(t, mild.CuttableShare.P10, strict.CuttableShare.P10-rounding)
		require.GreaterOrEqual(t, mild.CuttableShare.P90, strict.CuttableShare.P90-rounding)
	})
}

func TestFirstClauseThatFitsDecides(t *testing.T) {
	l, err := ParseLook([]byte(`
look: belts
margin_mm: 4
defects:
  scar:
    - {rule: forbidden, state: open}
    - {rule: counted, zones: [butt, shoulder], from_length_mm: 20, margin_mm: 6}
  vein: not_counted
`))
	require.NoError(t, err)
	for _, c := range []struct {
		d      hide.Defect
		rule   Rule
		margin hide.MM
	}{
		{hide.Defect{Kind: hide.Scar, Open: true}, Forbidden, 4},
		{hide.Defect{Kind: hide.Scar, Zone: hide.Butt, Length: 20}, Counted, 6},
		{hide.Defect{Kind: hide.Scar, Zone: hide.Butt, Length: 19}, NotCounted, 0},
		{hide.Defect{Kind: hide.Scar, Zone: hide.Belly, Length: 90}, NotCounted, 0},
		{hide.Defect{Kind: hide.Scar, Length: 90}, Counted, 6}, // zone unknown: taken as in it
		{hide.Defect{Kind: hide.Vein, Length: 900}, NotCounted, 0},
		{hide.Defect{Kind: hide.Hole}, Counted, 4}, // not named
	} {
		rule, margin := l.Judge(c.d)
		require.Equal(t, c.rule, rule, "%+v", c.d)
		require.InDelta(t, float64(c.margin), float64(margin), 0, "%+v", c.d)
	}
}

// Every refusal names what is wrong.
func TestLookRefuses(t *testing.T) {
	for text, want := range map[string]string{
		"look: a\nedge_strip: 3":                                                                               `unknown key "edge_strip"`,
		"look: a\ndefects: {scar: {rule: counted, from_mm: 3}}":                                                `unknown key "from_mm"`,
		"look: a\ndefects: {skar: counted}":                                                                    `unknown kind "skar"`,
		"look: a\ndefects: {scar: banned}":                                                                     `rule "banned"`,
		"look: a\ndefects: {scar: {rule: counted, state: closed}}":                                             `state "closed"`,
		"look: a\ndefects: {scar: {rule: counted, zones: [rump]}}":                                             `unknown zone "rump"`,
		"look: a\nmargin_mm: -1":                                                                               "margin_mm: -1 mm",
		"look: a\nedge_strip_mm: 4000":                                                                         "edge_strip_mm: 4000 mm",
		"look: a\nedge_strip_mm: .nan":                                                                         "edge_strip_mm: NaN",
		"look: a\nsubstance_mm: {from: 2, to: 1.4}":                                                            "contradict",
		"look: a\nsubstance_mm: {from: 2}":                                                                     "from and to",
		"look: a\ndefects: {scar: {rule: counted, from_length_mm: 5, from_width_mm: 9}}":                       "never wider than long",
		"look: a\ndefects: {scar: {rule: not_counted, margin_mm: 9}}":                                          "not counted",
		"look: a\ndefects: {scar: [counted, {rule: forbidden, state: open}]}":                                  "clause 2 can never apply",
		"look: a\ndefects: {scar: [{rule: counted, from_length_mm: 5}, {rule: forbidden, from_length_mm: 9}]}": "can never apply",
		"margin_mm: 3":       "name",
		"":                   "empty",
		"look: a\n---\nb: c": "document",
		"look: a\nlook: b":   "already defined",
	} {
		_, err := ParseLook([]byte(text))
		require.Error(t, err, text)
		require.ErrorIs(t, err, hide.Invalid, text)
		require.Contains(t, err.Error(), want, text)
		require.NotContains(t, err.Error(), "yield.", "no Go type names")
	}
}

func TestLookByPath(t *testing.T) {
	path := filepath.Join(t.TempDir(), "mine.yaml")
	require.NoError(t, os.WriteFile(path, []byte("look: mine\ntemper: firm\nfinish: [aniline, waxed]"), 0o644))
	l, err := FindLook(path)
	require.NoError(t, err)
	require.Equal(t, []string{"aniline", "waxed"}, l.Finish)
	_, err = FindLook("shiny")
	require.ErrorIs(t, err, hide.NotFound)
	require.Contains(t, err.Error(), "classic, rustic")
}

func TestLookAsksOfTheLeather(t *testing.T) {
	chart := square()
	chart.Capture.Temper, chart.Capture.Article = "soft", "Aniline tan"
	chart.Capture.Substance = []hide.Substance{{MM: 1.2, Place: "belly"}, {MM: 1.6, Place: "butt"}, {MM: 1.4, Place: "neck"}}
	l := plain()
	l.Substance, l.Temper, l.Finish = [2]hide.MM{1.3, 1.5}, []string{"firm"}, []string{"aniline"}
	cut, err := Cuttable(chart, l, DefaultParams())
	require.NoError(t, err)
	require.Equal(t, []string{"substance 1.20 mm (belly): too thin for 1.3–1.5 mm", "substance 1.60 mm (butt): to be split for 1.3–1.5 mm",
		"temper asked for: firm; the chart says soft"}, cut.Unmet)
}

func FuzzParseLook(f *testing.F) {
	f.Add([]byte("look: a\ndefects: {scar: [counted, {rule: forbidden, state: open}], vein: {rule: counted, zones: [neck]}}"))
	f.Fuzz(func(t *testing.T, data []byte) {
		l, err := ParseLook(data)
		if err != nil {
			require.ErrorIs(t, err, hide.Invalid)
			return
		}
		require.NoError(t, l.Validate())
	})
}

func ExampleParseLook() {
	l, _ := ParseLook([]byte("look: straps\nmargin_mm: 3\ndefects: {scar: {rule: counted, state: open, margin_mm: 8}}"))
	fmt.Println(l.Judge(hide.Defect{Kind: hide.Scar, Open: true}))
	fmt.Println(l.Judge(hide.Defect{Kind: hide.Scar}))
	_, err := ParseLook([]byte("look: straps\ndefects: {crack: counted}"))
	fmt.Println(err)
	// Output:
	// counted 8
	// not_counted 0
	// look "straps": unknown kind "crack"; known: hole, thin, flay_cut, scar, scratch, bites, wart, brand, wrinkle, vein, stain, loose
}
