package yield

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/hide"
)

// damagedBy is the square hide with so many percent damaged, butt first, and a
// share of the neck (0..1) on top of it.
func damagedBy(percent, neck float64) hide.Chart {
	chart := square()
	add := func(r hide.Ring, z hide.Zone) {
		d := candidate(len(chart.Defects)+1, hide.Stain, 1, r)
		d.Status, d.Zone, d.EdgeDistance = hide.Confirmed, z, 0
		chart.Defects = append(chart.Defects, d)
	}
	inNeck := neck * 25 // the neck is a quarter of the square
	if rest := percent - inNeck; rest > 0 {
		add(rect(250, 0, 250+min(750, 10*rest), 1000), hide.Butt)
	}
	if neck > 0 {
		add(rect(0, 0, 250*neck, 1000), hide.Neck)
	}
	return chart
}

func gradeOf(t *testing.T, rule string, chart hide.Chart) Graded {
	t.Helper()
	r, err := FindGradeRule(rule)
	require.NoError(t, err)
	g, err := GradeHide(chart, r, 0.5)
	require.NoError(t, err)
	return g
}

// Source: ISO 17551:2018 as in shared/facts.md, "Yield and grades" [S]: I ≤ 10 %
// damaged; II 11–20 %, neck and shoulder clean; III 21–40 %, 75 % of
// neck/shoulder clean; IV 41–70 %; V > 70 %.
func TestISO17551(t *testing.T) {
	for _, c := range []struct {
		percent, neck float64
		want          string
	}{{0, 0, "I"}, {10, 0, "I"}, {10, 0.3, "I"}, {11, 0, "II"}, {20, 0, "II"}, {15, 0.1, "III"}, {21, 0, "III"}, {40, 0.25, "III"}, {40, 0.3, "IV"},
		{15, 0.5, "IV"}, {41, 0, "IV"}, {70, 0.1, "IV"}, {71, 0, "V"}, {74, 0, "V"}} {
		g := gradeOf(t, "iso-17551", damagedBy(c.percent, c.neck))
		require.Equal(t, c.want, g.Grade, "%v %% damaged, %v of the neck: %+v", c.percent, c.neck, g)
	}
}

// The sentence that decided is given, with the figures, and why no better one
// did.
func TestGradeSaysWhichSentenceDecided(t *testing.T) {
	g := gradeOf(t, "iso-17551", damagedBy(15, 0.1))
	require.Equal(t, "21–40 % damaged, 75 % of neck and shoulder clean", g.Sentence)
	require.Equal(t, []string{"I: damaged area in % is 15, at most 10 asked for",
		"II: clean area in % (in neck, shoulder) is 90, at least 100 asked for"}, g.NotOver)
	require.Equal(t, "clean area in % (in neck, shoulder) is 90, at least 75 asked for", g.Because[1])
	require.InDelta(t, 15, g.Damaged, 1e-9)
}

// Sources, shared/facts.md, "Yield and grades" [S]: ES 1201:2005 usable 90–100 /
// 75–90 / 65–75 / 50–65 / 25–50 %, reject < 25 %; GOST 1904-81 100–90 / 89.9–80 /
// 79.9–70 %; GOST 15092-80 100–95 / 94.99–85 / 84.99–75 / 74.99–60 / 59.99–40 %.
func TestUsableAreaRules(t *testing.T) {
	for rule, grades := range map[string]map[float64]string{
		"gost-1904-81":  {100: "I", 90: "I", 89.9: "II", 80: "II", 79.9: "III", 70: "III", 69.9: "ungraded"},
		"gost-15092-80": {100: "I", 95: "I", 94.99: "II", 85: "II", 84.99: "III", 75: "III", 74.99: "IV", 60: "IV", 59.99: "V", 40: "V", 39.99: "ungraded"},
	} {
		for usable, want := range grades {
			g := gradeOf(t, rule, damagedBy(100-usable, 0))
			require.Equal(t, want, g.Grade, "%s, %v %% usable", rule, usable)
		}
	}
	for usable, want := range map[float64]string{100: "I", 91: "I", 76: "II", 66: "III", 51: "IV", 30: "V", 26: "V"} {
		chart := square()
		d := candidate(1, hide.Stain, 1, rect(25, 25, 25+10*(100-usable)/0.95, 975)) // clear of the 25 mm at the edge
		chart.Defects = []hide.Defect{d}
		require.Equal(t, want, gradeOf(t, "es-1201", chart).Grade, "ES 1201, %v %% usable", usable)
	}
	// defects within 2.5 cm of the edge are ignored
	chart := square()
	chart.Defects = []hide.Defect{candidate(1, hide.Stain, 1, rect(0, 0, 1000, 25))}
	require.InDelta(t, 100, gradeOf(t, "es-1201", chart).Usable, 1e-9)
	chart.Defects = []hide.Defect{candidate(1, hide.Stain, 1, rect(0, 0, 1000, 1000))}
	require.Equal(t, "reject", gradeOf(t, "es-1201", chart).Grade)
}

// Source: GOST 338-81 as in shared/facts.md [S]: weak veins and neck wrinkles are
// no defects for chrome upper.
func TestGOST338(t *testing.T) {
	chart := square()
	vein, strong := candidate(1, hide.Vein, 1, rect(300, 300, 500, 301)), candidate(2, hide.Vein, 1, rect(300, 400, 500, 410))
	neck, butt := candidate(3, hide.Wrinkle, 1, rect(10, 10, 110, 20)), candidate(4, hide.Wrinkle, 1, rect(600, 10, 700, 20))
	neck.Zone = hide.Neck
	chart.Defects = []hide.Defect{vein, strong, neck, butt}
	g := gradeOf(t, "gost-338-81", chart)
	require.InDelta(t, 100*(200*10+100*10)/1e6, g.Damaged, 1e-6)
	require.Empty(t, g.Grade)
}

// Source: North American hides as in shared/facts.md [S, secondary]: No 1 no
// hole or gouge in the main area, grain defects ≤ 1 in; a hole < 3 in from the edge may
// be trimmed; No 2 one hole, gouge or larger grain defect; No 3 up to five, or
// one 6-in hole, or > 1/3 damaged.
func TestNorthAmerican(t *testing.T) {
	hole := func(id int, size, edge float64) hide.Defect {
		d := candidate(id, hide.Hole, 1, rect(500, 100*float64(id), 500+size, 100*float64(id)+5))
		d.EdgeDistance = hide.MM(edge)
		return d
	}
	scar := func(id int, long float64) hide.Defect {
		return candidate(id, hide.Scar, 1, rect(300, 90*float64(id), 300+long, 90*float64(id)+3))
	}
	for _, c := range []struct {
		why   string
		flaws []hide.Defect
		want  string
	}{
		{"clean", nil, "No 1"},
		{"grain defects of 1 in", []hide.Defect{scar(1, 25.4), scar(2, 20)}, "No 1"},
		{"a hole 2 in from the edge is trimmed", []hide.Defect{hole(1, 20, 50)}, "No 1"},
		{"one hole", []hide.Defect{hole(1, 20, 90)}, "No 2"},
		{"one larger grain defect", []hide.Defect{scar(1, 60)}, "No 2"},
		{"two", []hide.Defect{hole(1, 20, 90), scar(2, 60)}, "No 3"},
		{"five", []hide.Defect{hole(1, 20, 90), hole(2, 20, 90), hole(3, 20, 90), hole(4, 20, 90), scar(5, 60)}, "No 3"},
		{"six", []hide.Defect{hole(1, 20, 90), hole(2, 20, 90), hole(3, 20, 90), hole(4, 20, 90), scar(5, 60), scar(6, 60)}, "ungraded"},
		{"a 6-in hole", []hide.Defect{hole(1, 152.4, 90)}, "No 3"},
		{"more than 1/3 damaged", []hide.Defect{candidate(1, hide.Stain, 1, rect(0, 0, 350, 1000))}, "No 3"},
	} {
		chart := square()
		chart.Defects = c.flaws
		g := gradeOf(t, "north-american", chart)
		require.Equal(t, c.want, g.Grade, "%s: %+v", c.why, g)
	}
}

func TestGradeCountsWhatIsLikely(t *testing.T) {
	chart := square()
	chart.Defects = []hide.Defect{candidate(1, hide.Stain, 0.49, rect(0, 0, 500, 1000))}
	require.Equal(t, "I", gradeOf(t, "gost-1904-81", chart).Grade)
	chart.Defects[0].Probability = 0.5
	require.Equal(t, "ungraded", gradeOf(t, "gost-1904-81", chart).Grade)
	chart.Defects[0].Status = hide.Rejected
	require.Equal(t, "I", gradeOf(t, "gost-1904-81", chart).Grade)
}

func TestGradeRuleRefuses(t *testing.T) {
	for text, want := range map[string]string{
		"rule: a\ngrade: []": `unknown key "grade"`,
		"grades: []":         "name",
		"rule: a\ngrades: [{grade: I, sentence: s, all: [{measure: area, most: 3}]}]":                 `measure "area"`,
		"rule: a\ngrades: [{grade: I, sentence: s, all: [{measure: count}]}]":                         "least, most or below",
		"rule: a\ngrades: [{grade: I, sentence: s, all: [{measure: count, most: 1, least: 2}]}]":      "contradicts",
		"rule: a\ngrades: [{grade: I, sentence: s, all: [{measure: count, most: 1, kinds: [tear]}]}]": `unknown kind "tear"`,
		"rule: a\ngrades: [{grade: I, sentence: s, all: [{measure: count, most: 1, zones: [rump]}]}]": `unknown zone "rump"`,
		"rule: a\ngrades: [{grade: I, sentence: s}, {grade: II, sentence: s}]":                        "can never apply",
		"rule: a\ngrades: [{grade: I, all: [{measure: count, most: 1}]}]":                             "sentence",
		"rule: a\nnot_counted: [{from_length_mm: 9, to_length_mm: 3}]":                                "contradict",
		"rule: a\ngrades: [{grade: I, sentence: s, all: [{measure: sum, most: 1}]}]":                  `list "of"`,
		"rule: a\ngrades: [{grade: I, sentence: s, all: [{measure: count, most: 1, frm: 2}]}]":        `unknown key "frm"`,
	} {
		_, err := ParseGradeRule([]byte(text))
		require.Error(t, err, text)
		require.ErrorIs(t, err, hide.Invalid, text)
		require.Contains(t, err.Error(), want, text)
	}
	_, err := FindGradeRule("none")
	require.ErrorIs(t, err, hide.NotFound)
}

func FuzzParseGradeRule(f *testing.F) {
	for _, n := range GradeNames() {
		data, _ := gradeFiles.ReadFile("grades/" + n + ".yaml")
		f.Add(data)
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		r, err := ParseGradeRule(data)
		if err != nil {
			require.ErrorIs(t, err, hide.Invalid)
			return
		}
		_, err = GradeHide(damagedBy(15, 0.1), r, 0.5)
		require.NoError(t, err)
	})
}

func ExampleGradeHide() {
	rule, _ := FindGradeRule("gost-1904-81")
	g, _ := GradeHide(damagedBy(15, 0), rule, 0.5)
	fmt.Printf("%s: %s (%s)\n", g.Grade, g.Sentence, g.Because[0])
	// Output:
	// II: useful area 89.9–80 % (usable area in % is 85, at least 80 asked for)
}
