package review

import (
	"fmt"
	"math"
	"path/filepath"
	"testing"
	"time"

	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hidechart/export"
	"hidechart/hide"
)

// acting is a page of one hide whose record is read after each act.
type acting struct {
	browser
	dir  string
	told []hide.Act // acts that the record must hold by now
}

// recorded waits until one more decision is in the record, checks that it is
// the act wanted and that the page counts as the record does, and gives the fold.
func (a *acting) recorded(act hide.Act) []hide.Defect {
	a.t.Helper()
	a.told = append(a.told, act)
	var r hide.Reviewed
	var have export.ReviewRecord
	if !assert.Eventually(a.t, func() bool {
		var err error
		r, have, err = export.ReadFolded(a.dir)
		return err == nil && len(have.Damaged) == 0 && len(have.Decisions) >= len(a.told)
	}, patience, 20*time.Millisecond, "%s is not in the record", act) {
		a.keep("failed")
		a.t.FailNow()
	}
	got := make([]hide.Act, len(have.Decisions))
	for i, d := range have.Decisions {
		got[i] = d.Act
		assert.Equal(a.t, "Ann", d.Who)
	}
	require.Equal(a.t, a.told, got)
	require.Empty(a.t, r.Disputes)
	left := 0
	for _, d := range r.Chart.Defects {
		if d.Status == hide.Candidate {
			left++
		}
	}
	a.saved()
	a.until(fmt.Sprintf(`document.getElementById("n-left").textContent === "%d" && document.getElementById("n-all").textContent === "%d"`, left, len(r.Chart.Defects)))
	return r.Chart.Defects
}

// chooses one in the list and waits for the picture to come to rest on it.
func (a *acting) chooses(id int) {
	a.t.Helper()
	a.clickUntil(fmt.Sprintf(`#list li[data-id="%d"] button`, id), fmt.Sprintf(`document.querySelector(".card-title").textContent.startsWith("%d ")`, id))
	a.do(chromedp.Sleep(700 * time.Millisecond))
}

// table gives where points of the screen lie on the table, by the matrix of the outlines drawn.
func (a *acting) table(points ...[2]float64) hide.Ring {
	a.t.Helper()
	var r hide.Ring
	for _, p := range points {
		q := eval[[]float64](a.browser, fmt.Sprintf(`(()=>{const p=new DOMPoint(%g,%g).matrixTransform(document.querySelector(".overlay g").getScreenCTM().inverse());return [p.x,p.y]})()`, p[0], p[1]))
		r = append(r, hide.Point{X: hide.MM(q[0]), Y: hide.MM(q[1])})
	}
	return r
}

// shown is the box of an outline as the page draws it: x, y, width, height.
func (a *acting) shown(id int) []float64 {
	a.t.Helper()
	return eval[[]float64](a.browser, fmt.Sprintf(`(()=>{const b=document.querySelector('.flaw[data-id="%d"] .line').getBBox();return [b.x,b.y,b.width,b.height]})()`, id))
}

func boxOf(r hide.Ring) []float64 {
	x0, y0, x1, y1 := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for _, p := range r {
		x0, x1 = min(x0, float64(p.X)), max(x1, float64(p.X))
		y0, y1 = min(y0, float64(p.Y)), max(y1, float64(p.Y))
	}
	return []float64{x0, y0, x1 - x0, y1 - y0}
}

// Redraw, open and healed, no flaw, split, undo and redo by the hands of a
// reviewer: after each the record, folded, says what was done, and the page shows it. Undo
// gives back every state exactly, redo brings each again.
func TestPageActsByHand(t *testing.T) {
	root := t.TempDir()
	was := writeHide(t, root, "H1", 6).Defects
	_, h := newServer(t, root, nil)
	a := &acting{browser: openBrowser(t, 1280, 800), dir: filepath.Join(root, "H1")}
	a.openHide(h.URL + "/hide/H1")
	a.named("Ann")
	states := [][]hide.Defect{was}

	states = append(states, a.redraws(2, was[1]))

	a.chooses(3)
	a.key("o")
	now := a.recorded(hide.ActOpen)
	assert.True(t, now[2].Open)
	assert.Equal(t, hide.Confirmed, now[2].Status)
	a.until(`document.querySelector('[data-part="open"]').getAttribute("aria-pressed") === "true"`)
	states = append(states, now)
	a.click(`[data-part="open"]`)
	now = a.recorded(hide.ActOpen)
	assert.False(t, now[2].Open)
	a.until(`document.querySelector('[data-part="open"]').getAttribute("aria-pressed") === "false"`)
	states = append(states, now)

	a.chooses(4)
	a.click(".acts .reject")
	now = a.recorded(hide.ActReject)
	assert.Equal(t, hide.Rejected, now[3].Status)
	a.until(`document.querySelector("#list [aria-current]")?.dataset.id > 0 && !document.querySelector('#list li[data-id="4"]')`) // on to the next
	states = append(states, now)

	states = append(states, a.splits(5, was[4]))
	a.keep("acts")
	a.undoesAndRedoes(states)
}

// redraws one that is an area with the pen; it is in the record as drawn.
func (a *acting) redraws(id int, was hide.Defect) []hide.Defect {
	a.t.Helper()
	a.chooses(id)
	a.click(".acts .redraw")
	a.until(`document.getElementById("hint").textContent.startsWith("Draw round it")`)
	x, y := a.middle("#view")
	ink := [][2]float64{{x - 70, y - 40}, {x, y - 60}, {x + 90, y - 30}, {x + 80, y + 50}, {x - 50, y + 70}}
	want := a.table(ink...)
	a.drag(ink...)
	now := a.recorded(hide.ActRedraw)
	got := now[id-1]
	assert.Equal(a.t, hide.Confirmed, got.Status)
	assert.Equal(a.t, was.Kind, got.Kind)
	require.Len(a.t, got.Geometry, 1)
	// a pixel of the screen is a sixth of a millimetre here; ink is thinned by 0.8 of one
	assert.InDeltaSlice(a.t, boxOf(want), boxOf(got.Geometry[0].Outer), 0.5)
	assert.InEpsilon(a.t, float64(hide.Shape{{Outer: want}}.Area()), float64(got.Area), 0.02)
	a.until(fmt.Sprintf(`document.querySelector('.flaw.confirmed[data-id="%d"]')`, id))
	assert.InDeltaSlice(a.t, boxOf(got.Geometry[0].Outer), a.shown(id), 0.01)
	return now
}

// splits one along a cut drawn across its middle: two parts that are as large as the whole.
func (a *acting) splits(id int, was hide.Defect) []hide.Defect {
	a.t.Helper()
	a.chooses(id)
	a.click(".acts .split")
	a.until(`document.getElementById("hint").textContent.startsWith("Draw the cut")`)
	x, y := a.middle("#view")
	a.drag([2]float64{x, y - 150}, [2]float64{x, y - 50}, [2]float64{x, y + 50}, [2]float64{x, y + 150})
	now := a.recorded(hide.ActSplit)
	require.Len(a.t, now, 7)
	assert.Equal(a.t, hide.Candidate, now[id-1].Status)
	assert.Equal(a.t, hide.Candidate, now[6].Status)
	assert.InDelta(a.t, float64(was.Area), float64(now[id-1].Area+now[6].Area), 0.5)
	assert.InEpsilon(a.t, float64(was.Area)/2, float64(now[6].Area), 0.1)
	a.until(`document.querySelector('.flaw.candidate[data-id="7"]')`)
	return now
}

// undoesAndRedoes everything by the buttons, back to the first state and forth to the last.
func (a *acting) undoesAndRedoes(states [][]hide.Defect) {
	a.t.Helper()
	const undo, redo = `#tools [aria-keyshortcuts="Z"]`, `#tools [aria-keyshortcuts="Shift+Z"]`
	for i := len(states) - 2; i >= 0; i-- {
		a.click(undo)
		require.Equal(a.t, states[i], a.recorded(hide.ActUndo), "undo to state %d", i)
	}
	a.until(`!document.querySelector('.flaw[data-id="7"]')`)
	for i := 1; i < len(states); i++ {
		a.click(redo)
		require.Equal(a.t, states[i], a.recorded(hide.ActRedo), "redo to state %d", i)
	}
	last := states[len(states)-1]
	for _, d := range last {
		assert.InDeltaSlice(a.t, boxOf(d.Geometry[0].Outer), a.shown(d.ID), 0.01, "%d", d.ID)
	}
	a.click(redo) // nothing is left to redo: said, and nothing recorded
	a.until(`document.getElementById("hint").textContent === "There is nothing to redo."`)
	a.click(undo)
	require.Equal(a.t, states[len(states)-2], a.recorded(hide.ActUndo))
}

// A hide of 18 candidates by keys alone, each after the page shows the next,
// and once typed ahead as fast as keys come: each candidate is decided once. How long it
// takes is told, not judged: it depends on the machine.
func TestPagePassByKeys(t *testing.T) {
	const flaws = 18
	root := t.TempDir()
	writeHide(t, root, "paced", flaws)
	writeHide(t, root, "ahead", flaws)
	_, h := newServer(t, root, nil)
	b := openBrowser(t, 1280, 800)
	letter := func(i int) string { return [2]string{"y", "n"}[i%2] }

	b.openHide(h.URL + "/hide/paced")
	b.named("Ann")
	var order []int
	slowest, from := 0, time.Now()
	for i := range flaws {
		b.until(fmt.Sprintf(`document.querySelector("#list [aria-current]") && !%s.includes(Number(document.querySelector("#list [aria-current]").dataset.id))`, jsInts(order)))
		order = append(order, eval[int](b, `Number(document.querySelector("#list [aria-current]").dataset.id)`))
		b.key(letter(i))
		slowest = max(slowest, eval[int](b, `Number(document.getElementById("yield").dataset.ms ?? 0)`))
	}
	b.until(`document.querySelector("#list .empty")`)
	b.saved()
	took := time.Since(from)
	t.Logf("%d candidates by keys in %.1f s, %.0f ms each; the slowest figures came after %d ms", flaws, took.Seconds(), float64(took.Milliseconds())/flaws, slowest)
	acts := decidedOnce(t, filepath.Join(root, "paced"), flaws)
	for i, id := range order {
		want := map[string]hide.Act{"y": hide.ActConfirm, "n": hide.ActReject}[letter(i)]
		assert.Equal(t, want, acts[id], "%d", id)
	}

	b.openHide(h.URL + "/hide/ahead")
	keys := make([]chromedp.Action, flaws)
	for i := range keys {
		keys[i] = chromedp.KeyEvent(letter(i))
	}
	from = time.Now()
	b.do(keys...)
	typed := time.Since(from)
	b.saved()
	b.until(`document.querySelector("#list .empty")`)
	t.Logf("%d typed ahead in %.2f s, saved after %.2f s", flaws, typed.Seconds(), time.Since(from).Seconds())
	decidedOnce(t, filepath.Join(root, "ahead"), flaws)
}

// While the program does not answer, what waits to be saved is decided: going
// on never comes back to it, also when the reviewer goes up the list and down again.
func TestPageLeavesOutWhatWaits(t *testing.T) {
	b, root, _ := pageOf(t, 6, "Ann")
	listed := eval[[]int](b, `[...document.querySelectorAll("#list li")].map(e => Number(e.dataset.id))`)
	chosen := func(place int) {
		t.Helper()
		b.until(fmt.Sprintf(`document.querySelector("#list [aria-current]")?.dataset.id === "%d"`, listed[place]))
	}
	chosen(0)
	offline := func(off bool) {
		b.do(network.Enable(), network.EmulateNetworkConditions(off, 0, -1, -1))
	}
	offline(true)
	b.key(kb.ArrowDown)
	chosen(1)
	b.key("y")
	chosen(2)
	b.key(kb.ArrowUp)
	chosen(0)
	b.key("y")
	chosen(2)
	b.key("n")
	chosen(3)
	offline(false)
	b.saved()
	b.until(`document.getElementById("n-left").textContent === "3"`)
	got, err := export.ReadReviewed(filepath.Join(root, "H1"))
	require.NoError(t, err)
	for place, want := range []hide.Status{hide.Confirmed, hide.Confirmed, hide.Rejected, hide.Candidate} {
		assert.Equal(t, want, got.Defects[listed[place]-1].Status, "%d", listed[place])
	}
}

func jsInts(v []int) string {
	s := "["
	for _, x := range v {
		s += fmt.Sprint(x, ",")
	}
	return s + "]"
}

// decidedOnce gives the act on each defect, of a record that holds just one for each.
func decidedOnce(t *testing.T, dir string, flaws int) map[int]hide.Act {
	t.Helper()
	r, have, err := export.ReadFolded(dir)
	require.NoError(t, err)
	assert.Empty(t, have.Damaged)
	assert.Empty(t, r.Disputes)
	acts := map[int]hide.Act{}
	for _, d := range have.Decisions {
		require.Len(t, d.After, 1)
		assert.NotContains(t, acts, d.After[0].ID, "decided twice")
		acts[d.After[0].ID] = d.Act
	}
	assert.Len(t, acts, flaws)
	for _, d := range r.Chart.Defects {
		assert.NotEqual(t, hide.Candidate, d.Status, "%d", d.ID)
	}
	return acts
}
