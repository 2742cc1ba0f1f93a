package hide_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/hide"
)

func TestCaptureNote(t *testing.T) {
	n, err := hide.ParseCaptureNote([]byte(`
id: MH-0417-01
supplier: Moorhen Hollow
lot: MH-0417
article: aniline tan
stamp: 25.1
substance:
  - 4 oz
  - {mm: 1.6, place: butt}
  - {oz: 4, place: belly, at_mm: [100, 200]}
temper: firm
temperature_c: 20.5
humidity_percent: 64
backbone_mm: [[2900, 1300], [400, 1310]]
side: false
note: "spread twice"
`))
	require.NoError(t, err)
	require.Equal(t, "MH-0417-01", n.ID)
	require.Equal(t, "25.1", n.Stamp, "kept as written: 25¼ ft², not a decimal")
	require.Len(t, n.Substance, 3)
	// 4 oz = 4/64 in = 1.5875 mm (facts.md, "Units and marks" [C])
	require.InDelta(t, 1.5875, float64(n.Substance[0].Range.Middle()), 1e-9)
	require.Equal(t, hide.Point{X: 100, Y: 200}, *n.Substance[2].At)
	mean, ok := n.MeanSubstance()
	require.True(t, ok)
	require.InDelta(t, (1.5875+1.6+1.5875)/3, float64(mean), 1e-9)
	require.Equal(t, [2]hide.Point{{X: 2900, Y: 1300}, {X: 400, Y: 1310}}, *n.Backbone)
	require.False(t, *n.Side)
	facts := n.Facts()
	require.InDelta(t, 20.5, *facts.TempC, 0)
	require.Equal(t, hide.Substance{MM: 1.6, Place: "butt"}, facts.Substance[1])
}

func TestCaptureNoteForms(t *testing.T) {
	for text, mm := range map[string]float64{
		"substance: 6–7 oz":                     2.579688, // 6.5/64 in [C]
		"substance: {mm: 2}":                    2,
		"substance: [{reading: 1.2–1.4 mm}]":    1.3,
		"substance: {oz: 4.5, place: shoulder}": 1.785938, // 4.5/64 in [C]
	} {
		n, err := hide.ParseCaptureNote([]byte(text))
		require.NoError(t, err, text)
		mean, ok := n.MeanSubstance()
		require.True(t, ok, text)
		require.InDelta(t, mm, float64(mean), 1e-6, text)
	}
	n, err := hide.ParseCaptureNote(nil)
	require.NoError(t, err)
	require.Equal(t, hide.CaptureNote{}, n)
}

// Every refusal names the key at fault.
func TestCaptureNoteRefuses(t *testing.T) {
	for text, word := range map[string]string{
		"suplier: X":                       `unknown key "suplier"`,
		"substance: {mm: 1, plaice: butt}": `unknown key "plaice"`,
		"id: a\nid: b":                     `"id" already defined`,
		"stamp: many":                      "stamp",
		"substance: 4":                     "unit",
		"substance: {mm: 1, oz: 3}":        "once",
		"substance: {place: butt}":         "once",
		"temperature_c: 400":               "temperature_c",
		"humidity_percent: .nan":           "humidity_percent",
		"backbone_mm: [[1, 2]]":            "backbone_mm",
		"backbone_mm: [[1, 2], [.inf, 2]]": "backbone_mm",
		"side: perhaps":                    "want true or false",
		"id: a\n---\nid: b":                "document",
		"[1, 2":                            "line",
		"id: {a: b}":                       "line",
	} {
		_, err := hide.ParseCaptureNote([]byte(text))
		require.Error(t, err, text)
		require.ErrorIs(t, err, hide.Invalid, text)
		require.Contains(t, err.Error(), word, text)
		require.NotContains(t, err.Error(), "\n")
		require.NotContains(t, err.Error(), "hide.", "no Go type names")
	}
}

func FuzzParseCaptureNote(f *testing.F) {
	f.Add([]byte("id: a\nsubstance: [4 oz, {mm: 1.2}]\nbackbone_mm: [[0, 0], [1, 1]]"))
	f.Fuzz(func(t *testing.T, data []byte) {
		n, err := hide.ParseCaptureNote(data)
		if err != nil {
			require.ErrorIs(t, err, hide.Invalid)
			return
		}
		for _, r := range n.Substance {
			require.Greater(t, r.Range.Low, hide.MM(0))
		}
	})
}

func ExampleParseCaptureNote() {
	n, _ := hide.ParseCaptureNote([]byte("id: MH-0417-01\nstamp: 25¹\nsubstance: 4 oz"))
	mean, _ := n.MeanSubstance()
	fmt.Printf("%s, %.2f mm\n", n.ID, mean)
	_, err := hide.ParseCaptureNote([]byte("colour: brown"))
	fmt.Println(err)
	// Output:
	// MH-0417-01, 1.59 mm
	// capture.yaml: line 1: unknown key "colour"
}
