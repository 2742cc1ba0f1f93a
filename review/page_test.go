package review

import (
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hidechart/export"
	"hidechart/hide"
)

// A reviewer goes through a hide with keys, mouse and finger; draws one, undoes,
// reloads; the server is killed in the middle and started again. At the end every
// decision is in the record.
func TestPageThroughAHide(t *testing.T) {
	root := t.TempDir()
	writeHide(t, root, "H1", 18)
	writeHide(t, root, "H2", 5)
	srv := startProcess(t, root)
	b := openBrowser(t, 1280, 800)
	b.open("http://" + srv.addr + "/")
	b.until(`document.querySelectorAll(".thumb").length === 2 && [...document.images].every(i => i.complete && i.naturalWidth > 0)`)
	b.keep("list")
	b.click(`a.hide-link[href="/hide/H1"]`)
	b.until(`document.documentElement.dataset.ready && document.querySelector("#list [aria-current]")`)
	b.named("Ann")
	b.until(`document.getElementById("n-left").textContent === "18"`)
	b.keep("hide")
	chosen := func() int {
		t.Helper()
		b.until(`document.querySelector("#list [aria-current]")`)
		return eval[int](b, `Number(document.querySelector("#list [aria-current]").dataset.id)`)
	}

	after := func(id int) int { // what is chosen next
		t.Helper()
		b.until(fmt.Sprintf(`document.querySelector("#list [aria-current]")?.dataset.id != %d`, id))
		return chosen()
	}

	first := chosen()
	b.key("y") // by key
	second := after(first)
	b.saved()
	b.key("n")
	third := after(second)
	b.saved()
	b.click(".acts .confirm") // by mouse
	fourth := after(third)
	b.saved()
	b.tap(".acts .reject") // by finger
	fifth := after(fourth)
	b.saved()
	b.until(`document.getElementById("n-left").textContent === "14"`)

	// the kind from the keyboard alone
	b.key("k")
	b.until(`document.querySelector(".kinds")`)
	b.keep("kinds")
	b.key("h") // the eighth: brand
	b.saved()
	b.until(`document.getElementById("n-left").textContent === "13"`)

	drawOne(t, b)
	b.saved()
	b.until(`document.getElementById("n-all").textContent === "19"`)
	b.keep("drawn")
	b.key("z")
	b.until(`document.getElementById("n-all").textContent === "18"`)
	b.key("Z")
	b.until(`document.getElementById("n-all").textContent === "19"`)
	b.saved()

	b.do(chromedp.Evaluate(`window.before = true`, nil), chromedp.Reload())
	b.until(`!window.before && document.documentElement.dataset.ready && document.querySelector("#list [aria-current]")`)
	b.until(`document.getElementById("n-left").textContent === "13"`)
	b.until(`document.getElementById("n-all").textContent === "19"`)

	// the server dies; what is decided meanwhile is kept and sent when it is back
	srv.kill()
	sixth := chosen()
	b.key("y")
	b.until(`document.getElementById("saved").textContent.includes("not saved")`)
	seventh := after(sixth)
	b.key("n")
	b.keep("cut-off")
	b.do(chromedp.Sleep(300 * time.Millisecond))
	srv.start()
	b.saved()
	b.until(`document.getElementById("n-left").textContent === "11"`)

	for left := 11; left > 0; left-- { // through the rest
		b.until(fmt.Sprintf(`document.getElementById("n-left").textContent === "%d"`, left))
		b.key("y")
		b.saved()
	}
	b.until(`document.querySelector("#list .empty")`)
	b.keep("all-decided")
	srv.kill()

	got, err := export.ReadReviewed(filepath.Join(root, "H1"))
	require.NoError(t, err)
	require.Len(t, got.Defects, 19)
	rejected := map[int]bool{second: true, fourth: true, seventh: true}
	for _, d := range got.Defects[:18] {
		want := hide.Confirmed
		if rejected[d.ID] {
			want = hide.Rejected
		}
		assert.Equal(t, want, d.Status, "%d", d.ID)
	}
	assert.Equal(t, hide.Brand, got.Defects[fifth-1].Kind)
	assert.NotEqual(t, third, fifth)
	assert.Equal(t, hide.Added, got.Defects[18].Status)
	record, err := export.ReadReview(filepath.Join(root, "H1", export.ReviewName))
	require.NoError(t, err)
	assert.Empty(t, record.Damaged)
	assert.Len(t, record.Decisions, 4+1+3+2+11)
}

// drawOne adds a scar along a line drawn with the mouse.
func drawOne(t *testing.T, b browser) {
	t.Helper()
	b.key("0")
	b.do(chromedp.Sleep(600 * time.Millisecond)) // the zoom's motion
	b.key("a")
	b.until(`document.querySelector("dialog[open]")`)
	b.keep("add")
	b.click(`[data-answer="draw"]`)
	x, y := b.middle("#view")
	b.drag([2]float64{x - 60, y}, [2]float64{x - 20, y + 15}, [2]float64{x + 20, y + 5}, [2]float64{x + 60, y + 25})
}

// Two reviewers: what one decides is seen by the other at once, and a
// contradiction is shown and settled.
func TestPageOfTwoReviewers(t *testing.T) {
	b, root, h := pageOf(t, 6, "Bob")
	ann := newPerson(t, h, "H1", "Ann", "")
	ann.does(ask{Act: hide.ActConfirm}, 5)
	b.until(`document.getElementById("n-left").textContent === "5"`)
	assert.Contains(t, eval[string](b, `document.getElementById("hint").textContent`), "Ann")

	// Ann's word is on its way when Bob decides: his page is made not to hear it
	const id = 1
	b.clickUntil(`#list [data-id="1"] button`, `document.querySelector("#list [aria-current]").dataset.id === "1"`)
	held, status := newPerson(t, h, "H1", "Cleo", "").ask(ask{Act: hide.ActReject}, id)
	require.Equal(t, http.StatusOK, status)
	require.False(t, held.Held)
	// a third who saw nothing of it contradicts
	out, _ := newPerson(t, h, "H1", "Bob", "").ask(ask{Act: hide.ActConfirm}, id)
	require.True(t, out.Held)
	b.until(`document.querySelector("#list .badge.fault") || document.querySelector('[data-tab="done"]')`)
	b.clickUntil(`[data-tab="all"]`, `document.querySelector("#list .badge.fault")`)
	b.clickUntil(fmt.Sprintf(`#list li[data-id="%d"] button`, id), `[...document.querySelectorAll(".card button")].some(x => x.textContent.includes("Settle"))`)
	b.clickUntil(".card .fault button", `document.querySelector("dialog[open]")`)
	b.keep("two-opinions")
	b.click(`[data-answer="mine"]`)
	b.until(`!document.querySelector("#list .badge.fault")`)
	b.saved()
	got, err := export.ReadReviewed(filepath.Join(root, "H1"))
	require.NoError(t, err)
	assert.Equal(t, hide.Confirmed, got.Defects[id-1].Status)
}

// What one presses while another's word comes in is still pressed when let go.
func TestPageDrawnAnewUnderTheFinger(t *testing.T) {
	b, _, h := pageOf(t, 6, "Bob")
	x, y := b.middle(`#list li[data-id="2"] button`)
	b.do(input.DispatchMouseEvent(input.MousePressed, x, y).WithButton(input.Left).WithClickCount(1))
	newPerson(t, h, "H1", "Ann", "").does(ask{Act: hide.ActConfirm}, 5)
	b.until(`document.getElementById("n-left").textContent === "5"`)
	b.do(input.DispatchMouseEvent(input.MouseReleased, x, y).WithButton(input.Left).WithClickCount(1))
	b.until(`document.querySelector("#list [aria-current]")?.dataset.id === "2" && !document.querySelector('#list li[data-id="5"]')`)

	// a key takes over from a press that is never let go
	b.do(input.DispatchMouseEvent(input.MousePressed, x, y).WithButton(input.Left).WithClickCount(1))
	b.key("y")
	b.until(`document.querySelector("#list [aria-current]") && !document.querySelector('#list li[data-id="2"]')`)
}

// By keyboard alone: measure, split, note, join, many; on a tablet by finger; lights and rooms.
func TestPageTools(t *testing.T) {
	b, _, _ := pageOf(t, 12, "Ann")
	b.key("0")
	b.do(chromedp.Sleep(600 * time.Millisecond))

	// a length of known size: 200 px of the screen by the scale of the page
	b.key("m")
	x, y := b.middle("#view")
	b.do(chromedp.MouseClickXY(x-100, y))
	b.do(chromedp.Sleep(400 * time.Millisecond))
	b.do(chromedp.MouseClickXY(x+100, y))
	b.until(`document.getElementById("hint").dataset.length > 0`)
	length := eval[float64](b, `Number(document.getElementById("hint").dataset.length)`)
	perPixel := eval[float64](b, `(()=>{const m=document.querySelector(".overlay g").getCTM();return m.a})()`)
	assert.InDelta(t, 200/perPixel, length, 0.02*length)
	b.keep("measure")
	b.key(kb.Escape)

	for _, l := range []string{"rake-e", "top"} { // the next light by one key
		b.key("l")
		b.until(fmt.Sprintf(`document.querySelector('[data-light=%q]').getAttribute("aria-pressed") === "true"`, l))
	}
	b.key("2")
	b.key("b")
	b.until(`document.querySelector(".blend input").value === "50"`)

	b.key("t")
	b.until(`document.activeElement.id === "note-text"`)
	b.key("bend it here")
	b.click(`[data-answer="keep"]`)
	b.until(`document.querySelector(".notes")?.textContent.includes("bend it here")`)

	b.key("c")
	b.until(`document.getElementById("many-from")`)
	b.do(chromedp.SetValue("#many-from", "0"))
	b.click(`[data-answer="yes"]`)
	b.until(`document.getElementById("n-left").textContent === "10"`) // two of each kind

	splitByKeys(t, b)
	joinTwo(t, b)
	b.click("#theme")
	b.until(`document.documentElement.dataset.room === "dark"`)
	b.keep("dark")
	b.do(emulation.SetDeviceMetricsOverride(820, 1180, 1, false))
	b.do(chromedp.Sleep(500 * time.Millisecond))
	b.keep("tablet")
	fingerPans(t, b)
}

// splitByKeys splits the chosen one with points set at the cross.
func splitByKeys(t *testing.T, b browser) {
	t.Helper()
	all := b.count("n-all")
	b.click(`[data-tab="left"]`)
	b.click(`#list button`)
	b.do(chromedp.Sleep(700 * time.Millisecond))
	b.key("s")
	b.until(`document.activeElement.id === "view"`)
	b.key(kb.ArrowUp)
	b.key(kb.ArrowUp)
	b.do(chromedp.Sleep(700 * time.Millisecond))
	b.key(" ")
	for range 4 {
		b.key(kb.ArrowDown)
	}
	b.do(chromedp.Sleep(700 * time.Millisecond))
	b.key(" ")
	b.key(kb.Enter)
	b.until(fmt.Sprintf(`document.getElementById("n-all").textContent === "%d"`, all+1))
	b.saved()
}

func joinTwo(t *testing.T, b browser) {
	t.Helper()
	all := b.count("n-all")
	b.click(`[data-tab="left"]`)
	b.click(`#list li:nth-child(1) button`)
	x, y := b.middle(`#list li:nth-child(2) button`)
	b.do(chromedp.MouseClickXY(x, y, chromedp.ButtonModifiers(8))) // Shift
	b.until(`document.querySelectorAll("#list [aria-current]").length === 2`)
	b.key("j")
	b.until(fmt.Sprintf(`document.getElementById("n-all").textContent === "%d"`, all-1))
	b.saved()
}

func fingerPans(t *testing.T, b browser) {
	t.Helper()
	at := func() string {
		return eval[string](b, `document.querySelector(".overlay g").getAttribute("transform")`)
	}
	before := at()
	x, y := b.middle("#view")
	b.fingerDrag([2]float64{x, y}, [2]float64{x - 40, y - 30}, [2]float64{x - 80, y - 60})
	b.do(chromedp.Sleep(700 * time.Millisecond))
	assert.NotEqual(t, before, at())
}

// axePath is where npm puts axe-core; make web-check installs it.
var axePath = filepath.Join("web", "node_modules", "axe-core", "axe.min.js")

// axe-core (Deque; rules of WCAG 2.0, 2.1 and 2.2, levels A and AA) finds nothing serious on any
// page, in either room, with a dialog open, or on a tablet.
func TestAxeFindsNothingSerious(t *testing.T) {
	axe, err := os.ReadFile(axePath)
	if err != nil {
		t.Skip("axe-core is not installed: make web-check")
	}
	root := t.TempDir()
	writeHide(t, root, "H1", 12)
	_, h := newServer(t, root, nil)
	ann := newPerson(t, h, "H1", "Ann", "")
	ann.does(ask{Act: hide.ActConfirm}, 1)
	ann.does(ask{Act: hide.ActReject}, 2)
	ann.does(ask{Act: hide.ActNote, Text: "look here"}, 3)
	b := openBrowser(t, 1280, 800)
	check := func(where string) {
		t.Helper()
		b.do(chromedp.Evaluate(string(axe), nil))
		bad := eval[[]string](b, `axe.run({resultTypes:["violations"]}).then(r => r.violations.filter(v => ["serious","critical"].includes(v.impact)).map(v => v.id + ": " + v.nodes.map(n => n.target.join(" ") + " " + n.failureSummary).join(" | ")))`)
		assert.Empty(t, bad, where)
	}
	for _, room := range []string{"bright", "dark"} {
		b.open(h.URL + "/")
		b.do(chromedp.Evaluate(fmt.Sprintf(`localStorage.setItem("hidechart.room", %q); localStorage.setItem("hidechart.who", "Ann")`, room), nil))
		b.open(h.URL + "/")
		b.until(`document.querySelector(".facts") && !document.getElementById("learned").hidden`)
		check("list, " + room)
		b.openHide(h.URL + "/hide/H1")
		check("hide, " + room)
		for _, k := range []string{"a", "c", "?", "t", "k", "f"} {
			b.key(k)
			b.until(`document.querySelector("dialog[open]")`)
			check("dialog " + k + ", " + room)
			b.keep("dialog-" + map[string]string{"a": "add", "c": "many", "?": "keys", "t": "note", "k": "kinds", "f": "files"}[k] + "-" + room)
			b.key(kb.Escape)
			b.until(`!document.querySelector("dialog")`)
		}
	}
	b.do(emulation.SetDeviceMetricsOverride(820, 1180, 1, false))
	check("tablet")
}
