package hide_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"hidechart/hide"
)

// closeTo is float64 round-off on areas of a few square metres.
const closeTo = 1e-6

// shared/facts.md, "Units and marks" [C]: from 1 ft = 304.8 mm.
func TestSquareFeetInDM2(t *testing.T) {
	for feet, dm2 := range map[float64]float64{1: 9.290304, 0.25: 2.322576, 25.25: 234.580, 50: 464.515} {
		require.InDelta(t, dm2, hide.FromFeet2(feet).DM2(), 5e-4, "%v ft²", feet) // printed to 0.001
	}
}

func TestParseStamp(t *testing.T) {
	feet := hide.FromFeet2
	for text, want := range map[string]hide.MM2{
		// shared/facts.md [P]: the stamp 25¹, 25.1 or 25 1 means 25¼ ft², 25² = 25½, 25³ = 25¾
		"25¹": feet(25.25), "25²": feet(25.5), "25³": feet(25.75), "25⁰": feet(25), "25^1": feet(25.25),
		"25.1": feet(25.25), "25.2": feet(25.5), "25.3": feet(25.75), "25,1": feet(25.25), "25 1": feet(25.25), "25-3": feet(25.75),
		// issue 3: forms to be read
		"25 1/4": feet(25.25), "25,25 ft²": feet(25.25), "234.6 dm²": hide.FromDM2(234.6), "2.346 m²": hide.FromM2(2.346),
		// no quarter marks: plain decimals, fractions, units
		"25": feet(25), "25.0": feet(25), "25.5": feet(25.5), "25.25": feet(25.25), "25.75": feet(25.75), "25¼": feet(25.25),
		"25 ½": feet(25.5), "25 1⁄4 sq ft": feet(25.25), "25¼ sq. ft.": feet(25.25), "25 SF": feet(25), "25² ft²": feet(25.5),
		"25.1 ft2": feet(25.1), "2,35 m2": hide.FromM2(2.35), "235 dm2": hide.FromDM2(235), "  25   1 ": feet(25.25), "8.1 ft²": feet(8.1),
		// bare figures in the unit in which they are a hide
		"234.6": hide.FromDM2(234.6), "2.346": hide.FromM2(2.346), "450": hide.FromDM2(450),
	} {
		s, err := hide.ParseStamp(text)
		require.NoError(t, err, text)
		require.InDelta(t, float64(want), float64(s.Area), closeTo, "%s: %s", text, s.Explain())
	}
}

// shared/facts.md [C]: reading 25.3 as a decimal is 0.45 ft² (1.7 %) wrong.
func TestAmbiguousStampIsExplained(t *testing.T) {
	s, err := hide.ParseStamp("25.3")
	require.NoError(t, err)
	require.True(t, s.Ambiguous())
	require.InDelta(t, 0.45, (s.Area - s.Alternatives[0].Area).Feet2(), 1e-9)
	require.InDelta(t, -0.017, s.Alternatives[0].Off, 0.0005)
	require.Equal(t, "25.3: 25¾ ft² by the quarter-foot mark; or 25.3 ft² as a decimal, -1.7 %", s.Explain())

	s, err = hide.ParseStamp("25.1 ft²")
	require.NoError(t, err)
	require.InDelta(t, 25.25, s.Alternatives[0].Area.Feet2(), 1e-9)
	for _, clear := range []string{"25¹", "25 1/4", "25.5", "25.25", "25", "234.6 dm²", "25,25 ft²"} {
		s, err = hide.ParseStamp(clear)
		require.NoError(t, err)
		require.False(t, s.Ambiguous(), s.Explain())
	}
	for _, bare := range []string{"234.6", "2.346", "3.1"} {
		s, err = hide.ParseStamp(bare)
		require.NoError(t, err)
		require.True(t, s.Ambiguous(), s.Explain())
	}
}

func TestParseStampRefuses(t *testing.T) {
	for _, text := range []string{"", "ft²", "25.", ".5", "25 4", "25⁵", "0", "0.0 ft²", "-25", "25 5/4", "25 1/3", "1,234.5", "2500", "25¹ dm²",
		"25 1/4 m²", "twenty", "25.1.1", "25 kg", "NaN", "1e3", "99999 dm²"} {
		s, err := hide.ParseStamp(text)
		require.ErrorIs(t, err, hide.Invalid, "%q read as %s", text, s.Explain())
	}
}

func TestQuarterMark(t *testing.T) {
	// shared/facts.md [P] for the marks; rounding to the nearest is our choice
	for feet, want := range map[float64]string{25: "25", 25.25: "25¹", 25.5: "25²", 25.75: "25³", 25.124: "25", 25.125: "25¹", 25.9: "26", 8: "8⁰", 0.1: "0⁰"} {
		require.Equal(t, want, hide.QuarterMark(hide.FromFeet2(feet)))
	}
	require.Empty(t, hide.QuarterMark(-1))
}

// Every mark written is read back as the same area, unambiguously; the mark is
// never further than an eighth of a foot from the area.
func TestQuarterMarkRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		area := hide.FromFeet2(rapid.Float64Range(0.13, 999).Draw(t, "feet"))
		s, err := hide.ParseStamp(hide.QuarterMark(area))
		require.NoError(t, err)
		require.False(t, s.Ambiguous())
		require.InDelta(t, float64(hide.QuarterFeet(area)), float64(s.Area), closeTo)
		require.LessOrEqual(t, (s.Area - area).Feet2(), 0.125+1e-9)
		require.LessOrEqual(t, (area - s.Area).Feet2(), 0.125+1e-9)
	})
}

// A figure written with its unit is read back to its last digit, with a point
// or a comma, and its step is that digit.
func TestWrittenUnitRoundTrip(t *testing.T) {
	units := map[string]func(float64) hide.MM2{"ft²": hide.FromFeet2, "dm²": hide.FromDM2, "m²": hide.FromM2}
	rapid.Check(t, func(t *rapid.T) {
		unit := rapid.SampledFrom([]string{"ft²", "dm²", "m²"}).Draw(t, "unit")
		v := rapid.Float64Range(0.1, 90).Draw(t, "value")
		text := fmt.Sprintf("%.2f", v)
		if rapid.Bool().Draw(t, "comma") {
			text = text[:len(text)-3] + "," + text[len(text)-2:]
		}
		s, err := hide.ParseStamp(text + " " + unit)
		require.NoError(t, err)
		require.InDelta(t, float64(units[unit](v)), float64(s.Area), float64(s.Step)/2+closeTo)
		require.InDelta(t, float64(units[unit](0.01)), float64(s.Step), closeTo)
	})
}

func FuzzParseStamp(f *testing.F) {
	for _, s := range []string{"25¹", "25.1", "25 1/4", "25,25 ft²", "234.6 dm²", "2.346 m²", "25⁵", "1/0", "²"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		s, err := hide.ParseStamp(text)
		if err != nil {
			require.ErrorIs(t, err, hide.Invalid)
			return
		}
		require.Greater(t, s.Area, hide.MM2(0))
		require.Greater(t, s.Step, hide.MM2(0))
		require.NotEmpty(t, s.Explain())
		for _, a := range s.Alternatives {
			require.NotEqual(t, s.Area, a.Area)
		}
	})
}

func ExampleParseStamp() {
	s, _ := hide.ParseStamp("25.1")
	fmt.Println(s.Explain())
	fmt.Printf("%.1f dm²\n", s.Area.DM2())
	// Output:
	// 25.1: 25¼ ft² by the quarter-foot mark; or 25.1 ft² as a decimal, -0.6 %
	// 234.6 dm²
}
