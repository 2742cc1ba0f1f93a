package hide

import (
	"fmt"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func box10(x, y MM) Ring { return Ring{{x, y}, {x + 10, y}, {x + 10, y + 10}, {x, y + 10}} }

func foldChart() Chart {
	c := Chart{Format: Format, Outline: Polygon{Outer: Ring{{0, 0}, {1000, 0}, {1000, 1000}, {0, 1000}}, Holes: []Ring{turned(box10(500, 500), false)}}}
	c.Area = Area{Value: c.Outline.Area(), U: 10}
	for i := range 5 {
		c.Defects = append(c.Defects, Defect{ID: i + 1, Kind: Scar, Status: Candidate, Probability: 0.5, Geometry: Shape{{Outer: box10(MM(100*i), 100)}}, Area: 100})
	}
	c.Defects = append(c.Defects, Defect{ID: 6, Kind: Hole, Status: Candidate, Probability: 0.9, Geometry: Shape{{Outer: box10(500, 500)}}, Area: 100})
	return c
}

// maker writes decisions with sight of the last one on each defect, or without.
type maker struct {
	c    Chart
	list []Decision
}

func (m *maker) add(who string, act Act, seen []int, before, after []Defect) *Decision {
	m.list = append(m.list, Decision{Format: DecisionFormat, Seq: len(m.list) + 1, Key: fmt.Sprint(len(m.list)), At: time.Unix(0, 0).UTC(), Who: who, Chart: "sum", Act: act,
		Seen: seen, Before: before, After: after})
	return &m.list[len(m.list)-1]
}

func (m *maker) status(who string, act Act, id, seen int, s Status) {
	b := m.c.Defects[id-1]
	a := b
	a.Status = s
	m.add(who, act, []int{seen}, []Defect{b}, []Defect{a})
}

func (m *maker) fold() Reviewed { return Fold(m.c, "sum", m.list, "") }

func TestFoldChangesNothingOfTheChart(t *testing.T) {
	m := maker{c: foldChart()}
	m.status("Ann", ActReject, 6, 0, Rejected)
	m.status("Ann", ActConfirm, 1, 0, Confirmed)
	r := m.fold()
	assert.Equal(t, foldChart(), m.c)
	assert.Equal(t, Confirmed, r.Chart.Defects[0].Status)
	assert.Equal(t, 7, r.NextID)
}

// A contradiction made without sight is held; the same word is no contradiction; a
// later one with sight of both settles it.
func TestFoldHoldsWhatContradicts(t *testing.T) {
	m := maker{c: foldChart()}
	m.status("Ann", ActConfirm, 1, 0, Confirmed)
	m.status("Bob", ActReject, 1, 0, Rejected)
	m.status("Ann", ActConfirm, 2, 0, Confirmed)
	m.status("Bob", ActConfirm, 2, 0, Confirmed)
	r := m.fold()
	require.Len(t, r.Disputes, 1)
	assert.Equal(t, Dispute{Defect: 1, Held: 2, Against: 1, Who: "Bob", Act: ActReject, After: m.list[1].After[0]}, r.Disputes[0])
	assert.Equal(t, Confirmed, r.Chart.Defects[0].Status)
	assert.Equal(t, "review_disputed", r.Chart.Flags[0].Code)
	m.status("Bob", ActReject, 1, 1, Rejected) // saw Ann's only, not his own that was held
	assert.Len(t, m.fold().Disputes, 2)
	m.status("Bob", ActReject, 1, 5, Rejected)
	r = m.fold()
	assert.Empty(t, r.Disputes)
	assert.Equal(t, Rejected, r.Chart.Defects[0].Status)
	assert.Empty(t, r.Chart.Flags)
}

// Of many confirmed at once only the one decided otherwise meanwhile is held.
func TestFoldHoldsOneOfMany(t *testing.T) {
	m := maker{c: foldChart()}
	m.status("Ann", ActReject, 3, 0, Rejected)
	before := m.c.Defects[:5]
	var after []Defect
	for _, d := range before {
		d.Status = Confirmed
		after = append(after, d)
	}
	m.add("Bob", ActConfirm, make([]int, 5), before, after)
	r := m.fold()
	for i, want := range []Status{Confirmed, Confirmed, Rejected, Confirmed, Confirmed} {
		assert.Equal(t, want, r.Chart.Defects[i].Status, i+1)
	}
	assert.Len(t, r.Disputes, 1)
}

// What is split or joined holds as a whole.
func TestFoldSplitIsWhole(t *testing.T) {
	m := maker{c: foldChart()}
	m.status("Ann", ActReject, 1, 0, Rejected)
	a, b := m.c.Defects[0], m.c.Defects[0]
	b.ID = 7
	m.add("Bob", ActSplit, []int{0}, m.c.Defects[:1], []Defect{a, b})
	r := m.fold()
	assert.Len(t, r.Chart.Defects, 6)
	assert.Len(t, r.Disputes, 1)
	assert.Equal(t, 8, r.NextID, "the number stays used")
}

// A hole that is rejected is filled: the area grows by it, 100 mm²; one that is
// added takes 100 mm² off; confirming what has its ring already changes nothing.
func TestFoldHoles(t *testing.T) {
	m := maker{c: foldChart()}
	m.status("Ann", ActConfirm, 6, 0, Confirmed)
	r := m.fold()
	assert.Len(t, r.Chart.Outline.Holes, 1)
	assert.InDelta(t, 1e6-100, float64(r.Chart.Area.Value), 1e-6)
	m.status("Ann", ActReject, 6, 1, Rejected)
	r = m.fold()
	assert.Empty(t, r.Chart.Outline.Holes)
	assert.InDelta(t, 1e6, float64(r.Chart.Area.Value), 1e-6)
	m.add("Ann", ActAdd, []int{}, []Defect{}, []Defect{{ID: 7, Kind: Hole, Status: Added, Probability: 1, Geometry: Shape{{Outer: box10(700, 700)}}}})
	m.add("Ann", ActAdd, []int{}, []Defect{}, []Defect{{ID: 8, Kind: Hole, Status: Added, Probability: 1, Geometry: Shape{{Outer: box10(995, 700)}}}})
	r = m.fold()
	assert.Len(t, r.Chart.Outline.Holes, 1, "one that meets the edge stays a defect only")
	assert.InDelta(t, 1e6-100, float64(r.Chart.Area.Value), 1e-6)
	assert.Negative(t, float64(r.Chart.Outline.Holes[0].SignedArea()), "clockwise")
}

func TestFoldLeavesOtherPassesAndChartsOut(t *testing.T) {
	m := maker{c: foldChart()}
	m.status("Ann", ActReject, 1, 0, Rejected)
	m.list[0].Pass = "blind"
	m.status("Ann", ActReject, 2, 0, Rejected)
	m.list[1].Chart = "another"
	r := m.fold()
	assert.Equal(t, Candidate, r.Chart.Defects[0].Status)
	assert.Equal(t, Candidate, r.Chart.Defects[1].Status)
	assert.Equal(t, 1, r.Stale)
	assert.Equal(t, "review_stale", r.Chart.Flags[0].Code)
	assert.Equal(t, Rejected, Fold(m.c, "sum", m.list, "blind").Chart.Defects[0].Status)
}

// Whatever the decisions, folding a longer record never loses a defect that nobody
// took away, and folding twice gives the same.
func TestFoldOfAnyRecord(t *testing.T) {
	r := rand.New(rand.NewPCG(4, 2))
	for range 200 {
		m := maker{c: foldChart()}
		for range r.IntN(30) {
			s := []Status{Confirmed, Rejected}[r.IntN(2)]
			m.status([]string{"Ann", "Bob"}[r.IntN(2)], ActConfirm, 1+r.IntN(6), r.IntN(len(m.list)+1), s)
		}
		a, b := m.fold(), m.fold()
		assert.Equal(t, a, b)
		assert.Len(t, a.Chart.Defects, 6)
		for _, d := range m.list {
			require.NoError(t, d.Check())
		}
	}
}

func TestDecisionCheck(t *testing.T) {
	m := maker{c: foldChart()}
	m.status("Ann", ActConfirm, 1, 0, Confirmed)
	for name, bad := range map[string]func(*Decision){
		"format": func(d *Decision) { d.Format = "x" }, "seq": func(d *Decision) { d.Seq = 0 }, "who": func(d *Decision) { d.Who = "" },
		"act": func(d *Decision) { d.Act = "praise" }, "seen": func(d *Decision) { d.Seen = nil }, "undo of itself": func(d *Decision) { d.Act, d.Of = ActUndo, d.Seq },
		"status": func(d *Decision) { d.After[0].Status = "maybe" }, "kind": func(d *Decision) { d.After[0].Kind = "dent" }, "no shape": func(d *Decision) { d.After[0].Geometry = nil },
	} {
		d := m.list[0]
		d.After = []Defect{d.After[0]}
		bad(&d)
		require.ErrorIs(t, d.Check(), Invalid, name)
	}
}

// Worked examples: 20 both yes, 15 both no, 5 and 10 apart: pₒ = 0.70, pₑ = 0.50, κ = 0.40 (the example of
// many introductions, from memory, and by hand: pₑ = 0.5·0.6 + 0.5·0.4); and one of three words, by hand below.
func TestKappaOfWorkedExamples(t *testing.T) {
	var a, b []string
	put := func(n int, x, y string) {
		for range n {
			a, b = append(a, x), append(b, y)
		}
	}
	put(20, "yes", "yes")
	put(5, "yes", "no")
	put(10, "no", "yes")
	put(15, "no", "no")
	k, err := Kappa(a, b)
	require.NoError(t, err)
	assert.InDelta(t, 0.70, k.Observed, 1e-12)
	assert.InDelta(t, 0.50, k.Expected, 1e-12)
	assert.InDelta(t, 0.40, k.Kappa, 1e-12)

	a, b = nil, nil
	for i, row := range [][]int{{25, 13, 12}, {12, 2, 16}, {3, 15, 2}} {
		for j, n := range row {
			put(n, fmt.Sprint(i), fmt.Sprint(j))
		}
	}
	k, err = Kappa(a, b)
	require.NoError(t, err)
	// by hand: diagonal 29 of 100; rows 50, 30, 20; columns 40, 30, 30: pₑ = 0.20 + 0.09 + 0.06
	assert.InDelta(t, (0.29-0.35)/(1-0.35), k.Kappa, 1e-12)

	k, err = Kappa([]string{"x", "x"}, []string{"x", "x"})
	require.NoError(t, err)
	assert.False(t, k.Known, "one word only: 0/0")
	_, err = Kappa(a, nil)
	require.ErrorIs(t, err, Invalid)
}
