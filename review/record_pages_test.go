package review

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"net/http"
	"net/url"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hidechart/export"
	"hidechart/hide"
	filed "hidechart/record"
)

// recordWith is a record of two suppliers, one of them with a name that breaks careless pages.
func recordWith(t testing.TB, names ...string) *filed.Store {
	t.Helper()
	s, err := filed.Open(t.Context(), filepath.Join(t.TempDir(), "r.db"), func(chart, _ []byte) (hide.Chart, error) { return export.ParseChart(chart) })
	require.NoError(t, err)
	t.Cleanup(func() { _ = s.Close() })
	for _, name := range names {
		for lot := range 2 {
			for i := range 3 {
				c := inventedChart(fmt.Sprintf("%d-%d", lot, i), 4+i)
				sum := sha256.Sum256([]byte(name + c.Capture.ID))
				c.Capture.Supplier, c.Capture.Lot = name, fmt.Sprintf("L%d", lot)
				c.Capture.Images = []hide.ImageFact{{Light: hide.Top, SHA256: hex.EncodeToString(sum[:]), WidthPX: 9, HeightPX: 9}}
				data, err := export.EncodeChart(c)
				require.NoError(t, err)
				_, err = s.File(t.Context(), filed.Filing{Chart: data, At: at().AddDate(0, lot, 0)})
				require.NoError(t, err)
			}
		}
	}
	return s
}

const oddName = "<b>עור</b> \"&\"\n=1+1"

// In Chromium: from the list of charts to the suppliers, to a sheet with its plots drawn, to its hides,
// searched and filtered; nothing against the policy, no name taken for markup.
func TestRecordPagesInChromium(t *testing.T) {
	root := t.TempDir()
	writeHide(t, root, "0-0", 4)
	_, h := newServer(t, root, func(o *Options) { o.Record = recordWith(t, oddName, "Moorhen Hollow (invented)") })
	b := openBrowser(t, 1280, 900)
	b.open(h.URL + "/")
	b.click(`header a[href="/record/suppliers"]`)
	b.until(`document.querySelectorAll("#suppliers tr").length === 3`)
	assert.Equal(t, 0, eval[int](b, `document.querySelectorAll("#suppliers b").length`))
	got := eval[string](b, `[...document.querySelectorAll("#suppliers td:first-child")].map(e => e.textContent).sort().join("|")`)
	assert.Equal(t, oddName+"|Moorhen Hollow (invented)", got)
	b.open(h.URL + "/record/sheet?" + url.Values{"supplier": {oddName}}.Encode())
	b.until(`document.images.length > 3 && [...document.images].every(i => i.complete && i.naturalWidth > 20)`)
	assert.Equal(t, "Supplier "+oddName, eval[string](b, `document.querySelector("h1").textContent`))
	b.keep("record-sheet")
	b.click(`main a[href^="/record/hides?"]`)
	b.until(`document.querySelectorAll("#hides tr").length === 7`)
	b.open(h.URL + "/record/hides")
	b.until(`document.querySelector("#count").textContent.startsWith("12 hides")`)
	eval[bool](b, `(document.querySelector("[name=search]").value = "moorhen", document.querySelector("form").requestSubmit(), true)`)
	b.until(`location.search.includes("moorhen") && document.querySelectorAll("#hides tr").length === 7`)
	assert.Equal(t, "/hide/0-0", eval[string](b, `document.querySelector("#hides td a").getAttribute("href")`), "a hide of this folder opens for review")
}

func TestRecordPagesAnswer(t *testing.T) {
	_, h := newServer(t, t.TempDir(), func(o *Options) { o.Record = recordWith(t, "A") })
	for path, want := range map[string]int{
		"/record/hides": 200, "/record/hides?kind=scar&reviewed=no&page=9": 200, "/record/hides?kind=nothing": 422, "/record/lots?search=L1": 200, "/record/suppliers": 200,
		"/record/sheet?lot=L1": 200, "/record/sheet?lot=none": 404, "/record/plot?lot=L1&name=lots": 200, "/record/plot?lot=L1&name=../x": 404,
		"/record/drawing?sha256=zz": 404, "/record/style.css": 200, "/record/hides?search=%25%27%3B--": 200,
	} {
		r, err := http.Get(h.URL + path)
		require.NoError(t, err)
		require.NoError(t, r.Body.Close())
		assert.Equal(t, want, r.StatusCode, path)
	}
	_, none := newServer(t, t.TempDir(), nil)
	r, err := http.Get(none.URL + "/record/hides")
	require.NoError(t, err)
	require.NoError(t, r.Body.Close())
	assert.Equal(t, 404, r.StatusCode, "no record, no pages")
}
