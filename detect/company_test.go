package detect

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hidechart/hide"
	"hidechart/plane"
)

// calledBrand is a line called a stroke of a brand, or likelier than anything else a scar.
func calledBrand(t *testing.T, f form, x0, y0, x1, y1, width float64) sorted {
	t.Helper()
	line, _ := inPieces([]hide.Point{at(x0, y0), at(x1, y1)}, 2)
	ribbon, err := plane.RibbonFrom(line, hide.MM(width))
	require.NoError(t, err)
	d := hide.Defect{Kind: hide.Brand, Probability: 0.9, Geometry: ribbon, Area: ribbon.Area(), Length: hide.MM(math.Hypot(x1-x0, y1-y0)), Width: hide.MM(width)}
	return sorted{Defect: d, next: hide.Scar, from: Candidate{Features: newFeatures(), found: candidate{form: f, line: line, length: d.Length}}}
}

func kindsOf(found []sorted) []hide.Kind {
	var out []hide.Kind
	for _, s := range found {
		out = append(out, s.Kind)
	}
	return out
}

func TestLoneStrokesAreNoBrand(t *testing.T) {
	crossing := []sorted{calledBrand(t, lineForm, 0, 50, 150, 60, 3), calledBrand(t, lineForm, 70, 0, 80, 120, 3), calledBrand(t, lineForm, 400, 0, 430, 10, 3)}
	require.NoError(t, inCompany(crossing))
	assert.Equal(t, []hide.Kind{hide.Scar, hide.Scar, hide.Scar}, kindsOf(crossing))

	figure := []sorted{calledBrand(t, lineForm, 0, 0, 0, 60, 9), calledBrand(t, lineForm, 0, 60, 40, 60, 9), calledBrand(t, lineForm, 40, 60, 40, 0, 9),
		calledBrand(t, lineForm, 0, 30, 40, 30, 9)}
	require.NoError(t, inCompany(figure))
	assert.Equal(t, []hide.Kind{hide.Brand, hide.Brand, hide.Brand, hide.Brand}, kindsOf(figure))
	few := figure[:2]
	require.NoError(t, inCompany(few))
	assert.Equal(t, []hide.Kind{hide.Scar, hide.Scar}, kindsOf(few), "two scars beside one another")

	ground := []sorted{calledBrand(t, lineForm, 0, 0, 0, 60, 3), calledBrand(t, patchForm, -20, 30, 40, 30, 50)}
	require.NoError(t, inCompany(ground))
	assert.Equal(t, []hide.Kind{hide.Brand, hide.Brand}, kindsOf(ground), "the figure was found as an area")

	own := []sorted{calledBrand(t, lineForm, 0, 0, 0, 60, 3), calledBrand(t, patchForm, 0, 2, 1, 58, 9)}
	require.NoError(t, inCompany(own))
	assert.Equal(t, []hide.Kind{hide.Scar, hide.Scar}, kindsOf(own), "an area as narrow as a stroke is no ground")
}

// A letter too plain to be told by itself stands beside a figure of its iron; as far away as that is long it is none's.
func TestPlainLettersBesideAFigure(t *testing.T) {
	letters := func(away float64) []sorted {
		return []sorted{calledBrand(t, lineForm, 0, 0, 0, 60, 9), calledBrand(t, lineForm, 0, 60, 40, 60, 9), calledBrand(t, lineForm, 40, 60, 40, 0, 9),
			calledBrand(t, lineForm, 0, 30, 40, 30, 9), calledBrand(t, lineForm, 40+away, 0, 40+away, 40, 6)}
	}
	beside := letters(40)
	require.NoError(t, inCompany(beside))
	assert.Equal(t, hide.Brand, beside[4].Kind)
	away := letters(160)
	require.NoError(t, inCompany(away))
	assert.Equal(t, hide.Scar, away[4].Kind)
	assert.Equal(t, hide.Brand, away[3].Kind)
}

// However a candidate was found, it gets a kind that can be found so.
func TestEveryFormGetsAKind(t *testing.T) {
	m, err := sortingModel()
	require.NoError(t, err)
	for f := range formCount {
		c := Candidate{Features: newFeatures(), found: candidate{form: f}}
		set(c.Features, fForm, float64(f))
		s := m.sorted([]Candidate{c})[0]
		assert.True(t, f.shows(s.Kind), s.Kind)
		assert.True(t, f.shows(s.next), s.next)
	}
}

// calledScar is a sure line, by its points.
func calledScar(line ...hide.Point) sorted {
	fine, _ := inPieces(line, 2) // as lines are found
	c := candidate{form: lineForm, line: fine, length: plane.LineLength(line), width: 3}
	return sorted{Defect: hide.Defect{Kind: hide.Scar, Probability: 0.9}, from: Candidate{Features: newFeatures(), found: c}}
}
