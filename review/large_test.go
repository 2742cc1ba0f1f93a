package review

import (
	"math"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hidechart/export"
)

// blanks counts, of a raster of places on the screen that show the picture, those where nothing is
// drawn: a tile is missing and no coarser one stands in for it.
const blanks = `(() => {
  const c = [...document.querySelectorAll("#view canvas")].find(x => x.width > 100);
  if (!c) return [1, 1];
  const g = c.getContext("2d"), n = 24, m = 16; let seen = 0, empty = 0;
  for (let i = 0; i < n; i++) for (let k = 0; k < m; k++) {
    const x = Math.floor((i + 0.5) * c.width / n), y = Math.floor((k + 0.5) * c.height / m);
    seen++; if (g.getImageData(x, y, 1, 1).data[3] === 0) empty++;
  }
  return [empty, seen];
})()`

// A hide of 100 megapixels under two lights opens in under 2 s with an empty cache, and pans and zooms
// without empty tiles. It takes a minute and measures time, so it runs by make review-large only.
func TestLargeHide(t *testing.T) {
	if os.Getenv("HIDECHART_LARGE") == "" {
		t.Skip("make review-large")
	}
	root := t.TempDir()
	dir := filepath.Join(root, "H1")
	require.NoError(t, os.MkdirAll(dir, 0o755))
	c := inventedChart("H1", 60)
	c.Frame.MMPerPX = 0.1
	require.NoError(t, export.WriteChart(filepath.Join(dir, export.ChartName), c))
	writeLights(t, dir, c, 11100, 9050, 0.1)
	_, h := newServer(t, root, func(o *Options) { o.Cache = filepath.Join(root, "..", "tiles"+filepath.Base(root)) })
	b := openBrowser(t, 1280, 800)
	b.open(h.URL + "/")
	b.do(chromedp.Evaluate(`localStorage.setItem("hidechart.who", "Ann")`, nil))

	from := time.Now()
	b.open(h.URL + "/hide/H1")
	b.until(`document.documentElement.dataset.ready && document.querySelector("#list [aria-current]")`)
	for {
		if e := eval[[]int](b, blanks); len(e) == 2 && e[0] == 0 {
			break
		}
		require.Less(t, time.Since(from), patience)
	}
	opened := time.Since(from)
	t.Logf("a hide of %.0f megapixels is there after %.2f s", 11100*9050/1e6, opened.Seconds())
	assert.Less(t, opened, 2*time.Second)

	worst := panAround(t, b)
	t.Logf("most places without a picture at once while panning: %d of 384", worst)
	assert.Zero(t, worst)
	t.Logf("cuttable area after a decision: %v", decisionTimes(t, b))
}

// panAround zooms in to full size and drags the picture about, looking all the while.
func panAround(t *testing.T, b browser) int {
	t.Helper()
	b.key("0")
	for range 5 {
		b.key("+")
	}
	b.do(chromedp.Sleep(500 * time.Millisecond))
	worst := 0
	x, y := b.middle("#view")
	for i := range 24 {
		s, c := math.Sincos(float64(i) * 2.4)
		b.drag([2]float64{x, y}, [2]float64{x + 120*c, y + 100*s}, [2]float64{x + 240*c, y + 200*s})
		for range 3 {
			worst = max(worst, eval[[]int](b, blanks)[0])
		}
		if i == 12 {
			b.key("l") // under another light as well
		}
	}
	b.keep("large")
	return worst
}

// decisionTimes are milliseconds from a key to the figures drawn, for
// decisions that say what is real, and for ones that change shapes.
func decisionTimes(t *testing.T, b browser) [2][]float64 {
	t.Helper()
	var out [2][]float64
	for k, keys := range [2][]string{{"y", "n"}, {"o"}} {
		var ms []float64
		for i := range 12 {
			b.do(chromedp.Sleep(900*time.Millisecond), chromedp.Evaluate(`document.getElementById("yield").dataset.ms = ""; null`, nil))
			b.key(keys[i%len(keys)])
			b.until(`document.getElementById("yield").dataset.ms`)
			ms = append(ms, eval[float64](b, `Number(document.getElementById("yield").dataset.ms)`))
		}
		out[k] = slices.Clone(ms)
		slices.Sort(ms)
		assert.Less(t, ms[len(ms)/2], 200.0)
	}
	return out
}
