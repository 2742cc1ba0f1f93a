package yield

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"hidechart/hide"
)

// Branch and bound against the best of all 2ⁿ choices.
func TestCoverAgainstBruteForce(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n, pieces := rapid.IntRange(1, 9).Draw(t, "hides"), rapid.IntRange(1, 3).Draw(t, "pieces")
		offers, need := make([]offer, n), make([]float64, pieces)
		for i := range offers {
			offers[i].cost = float64(rapid.IntRange(1, 50).Draw(t, "cost"))
			for range pieces {
				offers[i].gives = append(offers[i].gives, float64(rapid.IntRange(0, 9).Draw(t, "gives")))
			}
		}
		for p := range need {
			need[p] = float64(rapid.IntRange(1, 20).Draw(t, "need"))
		}
		best := math.Inf(1)
		for mask := range 1 << n {
			cost, got := 0.0, make([]float64, pieces)
			for i, o := range offers {
				if mask>>i&1 == 1 {
					cost += o.cost
					for p := range got {
						got[p] += o.gives[p]
					}
				}
			}
			meets := true
			for p := range got {
				meets = meets && got[p] >= need[p]
			}
			if meets {
				best = min(best, cost)
			}
		}
		s, ok := cheapestCover(offers, need)
		require.Equal(t, !math.IsInf(best, 1), ok)
		if ok {
			require.True(t, s.proven)
			require.InDelta(t, best, s.cost, 1e-9)
			require.InDelta(t, best, s.bound, 1e-9)
		}
	})
}

// Where the search ends early the bound still holds: what was found is no less.
func TestCoverBoundHolds(t *testing.T) {
	var offers []offer
	for i := range 60 { // all much alike: nothing can be ruled out
		offers = append(offers, offer{cost: 100 + math.Mod(float64(i)*7.31, 3), gives: []float64{5 + float64(i%2), 7 - float64(i%3)}})
	}
	s, ok := cheapestCover(offers, []float64{161, 173})
	require.True(t, ok)
	require.LessOrEqual(t, s.bound, s.cost+1e-9)
	require.InDelta(t, s.bound, s.cost, 0.06*s.cost, "a hide of some thirty")
}

// projectWith writes a project of one panel of 300 × 200 mm a set.
func projectWith(t *testing.T, extra string) Project {
	t.Helper()
	dir := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(dir, "set.svg"), svg(`<rect id="panel" width="300" height="200" data-turns="0"/>`), 0o600))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "mine.yaml"), []byte("look: mine"), 0o600))
	path := filepath.Join(dir, "p.yaml")
	require.NoError(t, os.WriteFile(path, []byte("project: bags\nlook: mine.yaml\npieces: set.svg\n"+extra), 0o600))
	p, err := ReadProject(path)
	require.NoError(t, err)
	return p
}

// bare is a hide that is a clean rectangle.
func bare(id string, w, h float64) hide.Chart {
	p := hide.Polygon{Outer: rect(0, 0, w, h)}
	return hide.Chart{Format: hide.Format, Outline: p, Area: hide.Area{Value: p.Area()}, Capture: hide.CaptureFacts{ID: id}}
}

func judged(t *testing.T, p Project, charts ...hide.Chart) []HideChoice {
	t.Helper()
	o := DefaultOptions()
	o.FitCell = 5
	var out []HideChoice
	for _, c := range charts {
		h, err := p.Judge(t.Context(), c, o)
		require.NoError(t, err)
		out = append(out, h)
	}
	return out
}

// Three rectangles that hold 6, 4 and 2 panels with 0, 20 and 50 % waste, worked by
// hand: ranked by leather a set; for 8 sets the first and the third make it with the least
// leather (360 + 240 dm² against 360 + 300); a dear first one changes both.
func TestPickByHand(t *testing.T) {
	charts := []hide.Chart{bare("B", 750, 400), bare("A", 600, 600), bare("C", 600, 400)}
	p := projectWith(t, "sets: 8")
	got := p.Pick(judged(t, p, charts...))
	require.Equal(t, []string{"A", "C", "B"}, []string{got.Hides[0].Hide, got.Hides[1].Hide, got.Hides[2].Hide})
	require.Equal(t, []int{6, 4, 4}, []int{got.Hides[0].Sets, got.Hides[1].Sets, got.Hides[2].Sets})
	require.InDelta(t, 0.2, got.Hides[2].WasteShare, 1e-9)
	require.Equal(t, Take, got.Hides[0].Verdict)
	both := got.Together
	require.True(t, both.Met)
	require.True(t, both.Proven)
	// C and B hold 8: 540,000 mm²; A and C 600,000; A and B 660,000
	require.InDelta(t, 540e3, float64(both.LeatherMM2), 1e-6)
	require.InDelta(t, 540e3-8*60e3, float64(both.WasteMM2), 1e-6)
	require.Nil(t, both.Cost)

	p = projectWith(t, "sets: 8\nprices: {currency: EUR, hides: {A: 10, B: 90, C: 12}}")
	got = p.Pick(judged(t, p, charts...))
	require.True(t, got.Together.ByCost)
	require.InDelta(t, 22, *got.Together.Cost, 1e-9)
	require.InDelta(t, 22.0/8, *got.Together.PerSet, 1e-9)
	require.InDelta(t, 10.0/6, *got.Hides[0].PerSet, 1e-9)
	require.Equal(t, HideShare{Hide: "A", Sets: 6, LeftMM2: 0}, got.Together.Hides[0])
	require.Equal(t, HideShare{Hide: "C", Sets: 2, LeftMM2: 120e3, Spare: 2}, got.Together.Hides[1])

	p = projectWith(t, "sets: 40")
	short := p.Pick(judged(t, p, charts...)).Together
	require.False(t, short.Met)
	require.Contains(t, short.Words[0], "14 of 40 sets: 26 are missing")
	require.Nil(t, projectPick(t, "", charts).Together, "no number of sets asked for")
}

func projectPick(t *testing.T, extra string, charts []hide.Chart) Picked {
	p := projectWith(t, extra)
	return p.Pick(judged(t, p, charts...))
}

// Pieces beside whole sets of two hides make a set together: each hide holds one set
// of two kinds and one piece more of the other kind.
func TestPiecesOfTwoHidesMakeASet(t *testing.T) {
	p := projectWith(t, "sets: 3")
	small := pieceOf(rect(0, 0, 100, 100))
	small.Name, p.Pieces.List[0].Name = "small", "large"
	p.Pieces.List = append(p.Pieces.List, small)
	// 300 × 300: one large, three small: one set, two small beside
	// 300 × 400: two large: or one large and six small
	got := p.Pick([]HideChoice{
		{Hide: "X", Sets: 1, AreaMM2: 90e3, gives: []float64{1, 3}, Verdict: Take}, {Hide: "Y", Sets: 0, AreaMM2: 130e3, gives: []float64{2, 0}, Verdict: Take}})
	require.True(t, got.Together.Met)
	require.Equal(t, 3, got.Together.Sets)
	require.Contains(t, got.Together.Words[0], "2 sets are put together")
}

// One hide in the hand: the verdict and why.
func TestTakeItOrLeaveIt(t *testing.T) {
	article := bare("A", 600, 600)
	article.Capture.Article, article.Capture.Temper = "Aniline calf", "soft"
	article.Capture.Substance = []hide.Substance{{MM: 1.1, Place: "neck"}, {MM: 1.2, Place: "butt"}, {MM: 1.6, Place: "belly"}}
	for extra, want := range map[string]string{
		"article: bridle":                                           "article Aniline calf, asked for bridle",
		"temper: [firm, medium]":                                    "temper soft, asked for firm or medium",
		"substance_mm: {from: 1.4, to: 1.8}":                        "too thin: 1.10 mm (neck), 1.20 mm (butt); asked for 1.4–1.8 mm",
		"most_cost_per_set: 2\nprices: {currency: EUR, per_m2: 50}": "3.00 EUR a set, at most 2.00 asked for",
	} {
		h := judged(t, projectWith(t, extra), article)[0]
		require.Equal(t, Leave, h.Verdict, extra)
		require.Contains(t, h.Reasons, want)
	}
	h := judged(t, projectWith(t, "substance_mm: {from: 1.0, to: 1.4}\nsets: 6"), article)[0]
	require.Equal(t, Take, h.Verdict, "splitting is said, and no reason to leave it")
	require.Contains(t, h.Reasons[0], "6 whole sets, the order alone")
	require.Contains(t, h.Notes[0], "1.60 mm (belly): to be split")
	h = judged(t, projectWith(t, ""), bare("S", 290, 600))[0]
	require.Equal(t, Leave, h.Verdict)
	require.Contains(t, h.Reasons[0], "not one whole set fits")

	spoilt := bare("S", 600, 600)
	spoilt.Defects = []hide.Defect{candidate(3, hide.Brand, 0.5, rect(0, 0, 600, 350))}
	h = judged(t, projectWith(t, "least_cuttable_share: 0.2"), spoilt)[0]
	require.Equal(t, Take, h.Verdict, "two panels fit whatever the candidate is")
	spoilt.Defects = []hide.Defect{candidate(3, hide.Brand, 0.5, rect(0, 0, 600, 500))}
	h = judged(t, projectWith(t, ""), spoilt)[0]
	require.Equal(t, LookCloser, h.Verdict)
	require.Contains(t, h.Reasons, "look first at candidates 3")
	require.Contains(t, h.Reasons[0], "between 0 and 6 whole sets")
	spoilt.Defects[0].Status = hide.Confirmed
	require.Equal(t, Leave, judged(t, projectWith(t, ""), spoilt)[0].Verdict)
}

// Source: shared/facts.md, "Yield and grades" [S+C]: 25 ft² invoiced × 0.98 × 0.88 =
// 21.56 ft² cuttable; price per cuttable area = price ÷ coefficient. The stamp 25 ft²
// is what is paid; 2 % less was measured, 12 % of it is a confirmed stain.
func TestPickPricesTheCuttableArea(t *testing.T) {
	actual := float64(hide.FromFeet2(25)) * 0.98
	h := actual / 1500
	chart := bare("A", 1500, h)
	chart.Capture.Stamp = "25 ft²"
	stain := candidate(1, hide.Stain, 1, rect(0, 0, 1500, 0.12*h))
	stain.Status = hide.Confirmed
	chart.Defects = []hide.Defect{stain}
	got := judged(t, projectWith(t, "prices: {currency: EUR, per_ft2: 10}"), chart)[0]
	require.InDelta(t, 0.98*0.88, got.Coefficient, 1e-9)
	require.InDelta(t, 250, *got.Cost, 1e-9, "by the stamp")
	require.InDelta(t, 250/21.56*hide.FromM2(1).Feet2(), *got.PerCuttable, 1e-6)
}

func TestProjectRefuses(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(dir, "s.svg"), svg(`<rect id="a" width="90" height="40"/>`), 0o600))
	head := "project: p\nlook: classic\npieces: s.svg\n"
	for text, want := range map[string]string{
		"look: classic\npieces: s.svg":                          "give it a name",
		"project: p\npieces: s.svg":                             "look: name one",
		"project: p\nlook: classic":                             "pieces: name their drawing",
		head + "set: 3":                                         `unknown key "set"`,
		head + "sets: -1":                                       "sets: -1",
		head + "prices: {per_m2: 40}":                           "name the currency",
		head + "prices: {currency: EUR, per_m2: 4, per_ft2: 4}": "not both",
		head + "prices: {currency: EUR, hides: {A: -4}}":        "for hide A",
		head + "most_cost_per_set: 4":                           "no prices",
		head + "least_cuttable_share: 80":                       "between 0 and 1",
		head + "substance_mm: {from: 2, to: 1}":                 "contradict",
		"project: p\nlook: shiny\npieces: s.svg":                "no look of that name",
		"project: p\nlook: classic\npieces: none.svg":           "none.svg",
	} {
		_, err := parseProject([]byte(text), dir)
		require.ErrorContains(t, err, want, text)
	}
	_, err := ReadProject(filepath.Join(dir, "none.yaml"))
	require.ErrorIs(t, err, hide.Unreadable)
}

func FuzzParseProject(f *testing.F) {
	f.Add([]byte("project: p\nlook: classic\npieces: s.svg\nsets: 3\nprices: {currency: EUR, per_m2: 4}"))
	dir := f.TempDir()
	f.Fuzz(func(t *testing.T, data []byte) {
		if _, err := parseProject(data, dir); err != nil {
			require.NotEqual(t, hide.Internal, hide.KindOf(err))
		}
	})
}

func ExampleProject_Pick() {
	p := Project{Name: "bags", Sets: 3, Pieces: Pieces{List: []Piece{pieceOf(rect(0, 0, 300, 200))}}}
	got := p.Pick([]HideChoice{{Hide: "A", Sets: 2, AreaMM2: 150e3, gives: []float64{2}}, {Hide: "B", Sets: 3, AreaMM2: 200e3, gives: []float64{3}}})
	for _, h := range got.Together.Hides {
		fmt.Printf("%s: %d sets\n", h.Hide, h.Sets)
	}
	// Output:
	// B: 3 sets
}
