package record

import (
	"fmt"
	"math/rand/v2"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hidechart/export"
	"hidechart/hide"
)

// readChart is what the command hands in.
func readChart(chart, review []byte) (hide.Chart, error) {
	c, err := export.ParseChart(chart)
	if err != nil || len(review) == 0 {
		return c, err
	}
	r, err := export.ParseReview(review)
	if err != nil {
		return c, err
	}
	return hide.Fold(c, hashOf(chart), r.Decisions, "").Chart, nil
}

var testDay = time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC)

func openSQLite(t *testing.T) *Store {
	t.Helper()
	return openAt(t, filepath.Join(t.TempDir(), "record.db"))
}

func openAt(t *testing.T, where string) *Store {
	t.Helper()
	s, err := Open(t.Context(), where, readChart)
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, s.Close()) })
	return s
}

func rect(x, y, w, h float64) hide.Polygon {
	p := func(x, y float64) hide.Point { return hide.Point{X: hide.MM(x), Y: hide.MM(y)} }
	return hide.Polygon{Outer: hide.Ring{p(x, y), p(x+w, y), p(x+w, y+h), p(x, y+h)}}
}

// plain is a chart of 2000 × 1600 mm, head to the left, with square flaws of 20 mm at the
// given places of the table.
func plain(id, supplier, lot string, flaws ...flaw) hide.Chart {
	c := hide.Chart{Format: hide.Format, Outline: rect(0, 0, 2000, 1600), Backbone: [2]hide.Point{{X: 0, Y: 800}, {X: 2000, Y: 800}},
		Frame:   hide.Frame{Unit: "mm", Y: "up", MMPerPX: 0.5},
		Area:    hide.Area{Value: 3.2e6, U: 1.1e4},
		Capture: hide.CaptureFacts{ID: id, Supplier: supplier, Lot: lot, Article: "aniline tan"},
		Zones: []hide.ZoneShape{{Zone: hide.Neck, Geometry: hide.Shape{rect(0, 0, 240, 1600)}}, {Zone: hide.Shoulder, Geometry: hide.Shape{rect(240, 0, 460, 1600)}},
			{Zone: hide.Butt, Geometry: hide.Shape{rect(700, 0, 1300, 1600)}}}}
	for i, f := range flaws {
		zone := hide.Butt
		if f.x < 240 {
			zone = hide.Neck
		} else if f.x < 700 {
			zone = hide.Shoulder
		}
		c.Defects = append(c.Defects, hide.Defect{ID: i + 1, Kind: f.kind, Status: hide.Candidate, Probability: 0.9, Geometry: hide.Shape{rect(f.x-10, f.y-10, 20, 20)},
			Area: 400, Length: 20, Width: 20, Zone: zone, Lights: []hide.Light{hide.Top}})
	}
	return c
}

type flaw struct {
	kind hide.Kind
	x, y float64
}

func encoded(t testing.TB, c hide.Chart) []byte {
	t.Helper()
	data, err := export.EncodeChart(c)
	require.NoError(t, err)
	return data
}

// scattered are n flaws anywhere.
func scattered(rng *rand.Rand, n int) []flaw {
	out := make([]flaw, n)
	for i := range out {
		out[i] = flaw{hide.Kinds()[rng.IntN(12)], 20 + 1960*rng.Float64(), 20 + 1560*rng.Float64()}
	}
	return out
}

// season files a few lots of two suppliers.
func season(t testing.TB, s *Store, lots, hides int) {
	t.Helper()
	rng := rand.New(rand.NewPCG(1, 2))
	for l := range lots {
		var batch []Filing
		for h := range hides {
			supplier := []string{"Moorhen Hollow (invented)", "Saltreed (invented)"}[l%2]
			c := plain(fmt.Sprintf("h%d", h), supplier, fmt.Sprintf("L%d", l), scattered(rng, 3+rng.IntN(8))...)
			c.Capture.Stamp = hide.QuarterMark(c.Area.Value * hide.MM2(1+0.02*rng.Float64()))
			c.Capture.Images = []hide.ImageFact{{Light: hide.Top, SHA256: hashOf(fmt.Appendf(nil, "%d %d", l, h)), WidthPX: 10, HeightPX: 10}}
			batch = append(batch, Filing{Chart: encoded(t, c), At: testDay.AddDate(0, l, h)})
		}
		_, err := s.File(t.Context(), batch...)
		require.NoError(t, err)
	}
}

// encodeForHelper is encoded without a test at hand.
func encodeForHelper(c hide.Chart) ([]byte, error) { return export.EncodeChart(c) }
