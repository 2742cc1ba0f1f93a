package yield

import (
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/hide"
)

// Source: GOST 26343-84 as in shared/facts.md, "Yield and grades" [S]: useful area is
// free of defects or carries defects that are not counted; an inadmissible defect stops
// the grading.
func TestGOST26343(t *testing.T) {
	rule, err := ParseGradeRule([]byte(`
rule: belts by GOST 26343-84
inadmissible: [{kinds: [hole], zones: [butt]}]
not_counted: [{kinds: [vein]}]
grades: [{grade: I, sentence: useful area from 90 %, all: [{measure: usable_percent, least: 90}]}, {grade: II, sentence: the rest}]
`))
	require.NoError(t, err)
	chart := square()
	vein, stain := candidate(1, hide.Vein, 1, rect(300, 0, 700, 500)), candidate(2, hide.Stain, 1, rect(800, 0, 900, 500))
	chart.Defects = []hide.Defect{vein, stain}
	g, err := GradeHide(chart, rule, 0.5)
	require.NoError(t, err)
	require.Equal(t, "I", g.Grade, "the vein is not counted: 5 % are")
	require.InDelta(t, 95, g.Usable, 1e-9)
	chart.Defects = append(chart.Defects, candidate(3, hide.Hole, 1, rect(500, 600, 503, 603)))
	g, err = GradeHide(chart, rule, 0.5)
	require.NoError(t, err)
	require.Empty(t, g.Grade)
	require.Equal(t, "an inadmissible defect stops the grading", g.Sentence)
	require.Equal(t, []string{"flaw 3, hole, is inadmissible"}, g.Because)
	chart.Defects[2].Zone = hide.Neck
	g, err = GradeHide(chart, rule, 0.5)
	require.NoError(t, err)
	require.Equal(t, "I", g.Grade, "in the neck it is only counted")
	// the look's three rules are the same ones: classic forbids by a clause
	look, err := ParseLook([]byte("look: belts\ndefects: {hole: {rule: forbidden, zones: [butt]}, vein: not_counted, stain: counted}"))
	require.NoError(t, err)
	chart.Defects[2].Zone = hide.Butt
	cut, err := Cuttable(chart, look, DefaultParams())
	require.NoError(t, err)
	require.Equal(t, []int{3}, cut.Refused)
	require.Equal(t, "GOST 26343-84", gradeOf(t, "gost-26343-84", chart).Rule)
}

// Source: shared/facts.md, "Yield and grades", wet-blue classes (Croatian) [S]: I one
// small scratch, or ≤ 20 cm² in neck/belly with the butt intact; II slight butt damage or 2–3
// marks in neck/belly; III pronounced neck folds, ≤ 30 cm² (butt) or ≤ 60 cm² (neck/belly); IV
// ≥ 50 % usable. "Small" 50 mm and "slight" 10 cm² are our reading.
func TestWetBlueClasses(t *testing.T) {
	// a square of cm² centimetres in a zone; the neck is x < 250, the butt the rest
	mark := func(id int, k hide.Kind, zone hide.Zone, cm2 float64) hide.Defect {
		x := 300.0
		if zone == hide.Neck {
			x = 20
		}
		d := candidate(id, k, 1, rect(x, 90*float64(id), x+cm2*2, 90*float64(id)+50)) // 50 mm high
		d.Zone = zone
		return d
	}
	scratch := func(long float64) hide.Defect {
		d := candidate(1, hide.Scratch, 1, rect(300, 300, 300+long, 301))
		return d
	}
	for _, c := range []struct {
		why   string
		flaws []hide.Defect
		want  string
	}{
		{"clean", nil, "I"},
		{"one small scratch, on the butt", []hide.Defect{scratch(40)}, "I"},
		{"20 cm² in the neck", []hide.Defect{mark(1, hide.Scar, hide.Neck, 20)}, "I"},
		{"a long scratch on the butt is slight damage", []hide.Defect{scratch(400)}, "II"},
		{"10 cm² of the butt", []hide.Defect{mark(1, hide.Scar, hide.Butt, 10)}, "II"},
		{"three marks in the neck, 45 cm²", []hide.Defect{mark(1, hide.Scar, hide.Neck, 15), mark(2, hide.Scar, hide.Neck, 15), mark(3, hide.Wart, hide.Neck, 15)}, "II"},
		{"four marks, 44 cm²", []hide.Defect{mark(1, hide.Scar, hide.Neck, 11), mark(2, hide.Scar, hide.Neck, 11), mark(3, hide.Scar, hide.Neck, 11), mark(4, hide.Scar, hide.Neck, 11)}, "III"},
		{"30 cm² of the butt", []hide.Defect{mark(1, hide.Scar, hide.Butt, 30)}, "III"},
		{"neck folds of 90 cm² and 25 cm² of the butt", []hide.Defect{mark(1, hide.Wrinkle, hide.Neck, 90), mark(2, hide.Scar, hide.Butt, 25)}, "III"},
		{"31 cm² of the butt", []hide.Defect{mark(1, hide.Scar, hide.Butt, 31)}, "IV"},
		{"half of it", []hide.Defect{candidate(1, hide.Stain, 1, rect(500, 0, 1000, 1000))}, "IV"},
		{"more", []hide.Defect{candidate(1, hide.Stain, 1, rect(490, 0, 1000, 1000))}, "ungraded"},
	} {
		chart := square()
		chart.Defects = c.flaws
		g := gradeOf(t, "wet-blue-croatia", chart)
		require.Equal(t, c.want, g.Grade, "%s: %+v", c.why, g)
	}
}

// Source: shared/facts.md [S]: second waste grows as piece area ÷ skin area (Russ &
// Small 1922). On one hide, layouts of squares of growing size leave more leather; their
// waste is fitted better by a line in the area ratio than by none.
func TestWasteGrowsWithThePieces(t *testing.T) {
	region := hide.Shape{{Outer: bigHide()[0].Outer}}
	before := 0.0
	for _, side := range []float64{200, 400, 800, 1100} {
		b := board(t, region, 20)
		l := layOut(t, b, LayoutParams{}, pieceOf(rect(0, 0, side, side)))
		waste := 1 - l.Used
		require.Greater(t, waste, before, "%v mm", side)
		before = waste
	}
	require.Greater(t, before, 0.3, "a panel of 1,100 mm on 5 m²")
}
