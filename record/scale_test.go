package record

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hidechart/hide"
	"hidechart/scene"
)

// Sizes of the scale test: `make scale` asks for 100,000 hides, the tests for a few.
const (
	scaleFlaws  = 30
	scaleLot    = 100 // hides
	scaleBytes  = 25_000
	scaleFiled  = 60
	leastTimed  = 100_000 // below, nothing is timed: figures of a few hides say nothing
	mostSheet   = 2 * time.Second
	mostFiling  = 50 * time.Millisecond
	scaleGroups = 5
)

// scaleReader makes hide n's chart from its number, so that the time that goes into reading
// 100,000 chart files is not spent; real charts are read by readChart.
func scaleReader(chart, review []byte) (hide.Chart, error) {
	first, _, _ := bytes.Cut(chart, []byte("\n"))
	n, err := strconv.Atoi(string(first))
	if err != nil {
		return readChart(chart, review)
	}
	rng := rand.New(rand.NewPCG(uint64(n), 3))
	lot := n / scaleLot
	supplier := []int{0, 0, 0, 0, 0, 1, 1, 2, 3, 4}[lot%10] // one has half of all hides
	c := plain(fmt.Sprint("h", n), fmt.Sprint("supplier ", supplier), fmt.Sprint("lot ", lot), scattered(rng, scaleFlaws)...)
	c.Capture.Article = fmt.Sprint("article ", lot%3)
	c.Area.Value *= hide.MM2(0.7 + 0.6*rng.Float64())
	c.Capture.Stamp = hide.QuarterMark(c.Area.Value * hide.MM2(0.99+0.03*rng.Float64()))
	return c, nil
}

// TestScale fills a record and times sheets and filings on it (make scale).
func TestScale(t *testing.T) {
	hides := 300
	if asked := os.Getenv("SCALE_HIDES"); asked != "" {
		var err error
		hides, err = strconv.Atoi(asked)
		require.NoError(t, err)
	}
	path := filepath.Join(t.TempDir(), "scale.db")
	if keep := os.Getenv("SCALE_RECORD"); keep != "" {
		path = keep
	}
	s, err := Open(t.Context(), path, scaleReader)
	require.NoError(t, err)
	defer func() { require.NoError(t, s.Close()) }()
	fillScale(t, s, hides)
	sheets := timeSheets(t, s)
	filings := timeFilings(t, s)
	if hides < leastTimed {
		clean(t, s)
		return
	}
	assert.LessOrEqual(t, sheets, mostSheet)
	assert.LessOrEqual(t, filings, mostFiling)
}

func fillScale(t *testing.T, s *Store, hides int) {
	have, err := s.CountHides(t.Context(), Filter{})
	require.NoError(t, err)
	filler := make([]byte, scaleBytes) // digits, as the coordinates of a chart: gzip halves them
	rng := rand.New(rand.NewPCG(1, 1))
	for i := range filler {
		filler[i] = byte('0' + rng.IntN(10))
	}
	start := time.Now()
	for n := have; n < hides; n += scaleLot {
		var batch []Filing
		for k := n; k < min(hides, n+scaleLot); k++ {
			batch = append(batch, Filing{Chart: append(fmt.Appendf(nil, "%d\n", k), filler...), At: testDay.Add(time.Duration(k) * 20 * time.Minute)})
		}
		_, err := s.File(t.Context(), batch...)
		require.NoError(t, err)
	}
	look := Look{"classic", hashOf([]byte("look"))}
	for {
		sums, err := s.Unyielded(t.Context(), hide.SheetScope{}, look, 2000)
		require.NoError(t, err)
		if len(sums) == 0 {
			break
		}
		yields := map[string]Yield{}
		for _, sum := range sums {
			yields[sum] = Yield{0.8 + 0.1*rng.Float64(), 0.7, 0.9}
		}
		require.NoError(t, s.PutYields(t.Context(), look, yields))
	}
	t.Logf("filled: %d hides, %d flaws in %.0f s", hides, hides*scaleFlaws, time.Since(start).Seconds())
}

func timeSheets(t *testing.T, s *Store) time.Duration {
	worst := time.Duration(0)
	var scopes []hide.SheetScope
	for i := range scaleGroups {
		scopes = append(scopes, hide.SheetScope{Supplier: fmt.Sprint("supplier ", i)}, hide.SheetScope{Supplier: fmt.Sprint("supplier ", i), Article: "article 1"})
	}
	for _, sc := range append(scopes, hide.SheetScope{}, hide.SheetScope{Lot: "lot 0"}, hide.SheetScope{Month: "2026-03"}) {
		start := time.Now()
		sheet, err := s.Sheet(t.Context(), sc, testDay)
		if hide.KindOf(err) == hide.NotFound {
			continue // the small version has no such lot yet
		}
		require.NoError(t, err)
		took := time.Since(start)
		t.Logf("sheet of %-36s %6d hides: %6.3f s", ScopeWords(sc), sheet.Hides, took.Seconds())
		if sc.Supplier != "" {
			worst = max(worst, took)
		}
	}
	return worst
}

// timeFilings files real charts, each with its own transaction, from bytes to receipt.
func timeFilings(t *testing.T, s *Store) time.Duration {
	c, err := scene.TruthChart(scene.Spec{Seed: 5, Supplier: "supplier 0", Lot: fmt.Sprint("timed ", time.Now().UnixNano())})
	require.NoError(t, err)
	n := scaleFiled
	if testing.Short() || os.Getenv("SCALE_HIDES") == "" {
		n = 3
	}
	var took []time.Duration
	for i := range n {
		c.Capture.ID = fmt.Sprint("t", i)
		data := encoded(t, c)
		start := time.Now()
		_, err := s.File(t.Context(), Filing{Chart: data, At: testDay})
		require.NoError(t, err)
		took = append(took, time.Since(start))
	}
	slices.Sort(took)
	t.Logf("filing a chart of %d flaws, %d kB: median %d ms, worst of %d %d ms", len(c.Defects), len(encoded(t, c))/1000, took[n/2].Milliseconds(), n, took[n-1].Milliseconds())
	return took[n/2]
}
