package review

import (
	"bufio"
	"encoding/json"
	"math"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hidechart/export"
	"hidechart/hide"
	"hidechart/yield"
)

func TestEveryActAndItsUndo(t *testing.T) {
	root := t.TempDir()
	chart := writeHide(t, root, "H1", 12)
	before, err := os.ReadFile(filepath.Join(root, "H1", export.ChartName))
	require.NoError(t, err)
	_, h := newServer(t, root, nil)
	ann := newPerson(t, h, "H1", "Ann", "")
	open := true
	line := []hide.Point{{X: 500, Y: 600}, {X: 560, Y: 640}}
	steps := []struct {
		a     ask
		ids   []int
		check func(s state)
	}{
		{ask{Act: hide.ActConfirm}, []int{1}, func(s state) { assert.Equal(t, hide.Confirmed, s.find(1).Status) }},
		{ask{Act: hide.ActReject}, []int{2}, func(s state) { assert.Equal(t, hide.Rejected, s.find(2).Status) }},
		{ask{Act: hide.ActKind, Kind: hide.Brand}, []int{3}, func(s state) {
			assert.Equal(t, hide.Brand, s.find(3).Kind)
			assert.Equal(t, hide.Confirmed, s.find(3).Status)
		}},
		{ask{Act: hide.ActOpen, Open: &open}, []int{1}, func(s state) { assert.True(t, s.find(1).Open) }},
		{ask{Act: hide.ActRedraw, Drawn: &stroke{Shape: square(400, 300, 50, 20)}}, []int{4}, func(s state) {
			d := s.find(4)
			assert.InDelta(t, 1000, float64(d.Area), 1e-6) // 50 × 20 by hand
			assert.InDelta(t, 50, float64(d.Length), 1e-6)
			assert.InDelta(t, 20, float64(d.Width), 1e-6)
			// u anew, by hand: each end within two pixels of 1 mm, 2/√3 mm; √2 of that for both; the
			// scale's 400 of 628,000 mm², halved, is 0.016 mm of 50 mm. Border 1/√3 mm along 140 mm.
			assert.InDelta(t, 1.633, float64(d.LengthU), 1e-3)
			assert.InDelta(t, 1.633, float64(d.WidthU), 1e-3)
			assert.InDelta(t, 80.83, float64(d.AreaU), 0.01)
			assert.InDelta(t, math.Hypot(2/math.Sqrt(3), 0.1), float64(d.EdgeDistanceU), 0.01)
		}},
		{ask{Act: hide.ActAdd, Kind: hide.Scar, Drawn: &stroke{Line: line, Width: 4}}, nil, func(s state) {
			d := s.find(13)
			require.NotNil(t, d)
			assert.Equal(t, hide.Added, d.Status)
			assert.InDelta(t, 72.111, float64(d.Length), 0.01) // √(60² + 40²)
			assert.InDelta(t, 4, float64(d.Width), 1e-9)
		}},
		{ask{Act: hide.ActSplit, Cut: []hide.Point{{X: 660, Y: 240}, {X: 660, Y: 280}}}, []int{5}, func(s state) {
			// a cut that misses is refused below; 5 lies at x 650–686
			require.NotNil(t, s.find(14))
			sum := s.find(5).Area + s.find(14).Area
			assert.InDelta(t, float64(chart.Defects[4].Area), float64(sum), 1) // less the knife's 0.02 mm
			assert.Greater(t, s.find(5).Area, s.find(14).Area)
		}},
		{ask{Act: hide.ActMerge}, []int{6, 7}, func(s state) {
			assert.Nil(t, s.find(7))
			assert.InDelta(t, float64(chart.Defects[5].Area+chart.Defects[6].Area), float64(s.find(6).Area), 1e-6)
		}},
		{ask{Act: hide.ActNote, Text: "look at it by hand"}, []int{8}, func(s state) {
			require.Len(t, s.Notes, 1)
			assert.Equal(t, 8, s.Notes[0].Defect)
		}},
		{ask{Act: hide.ActConfirm}, []int{9, 10, 11}, func(s state) { assert.Equal(t, hide.Confirmed, s.find(10).Status) }},
	}
	for _, x := range steps {
		ann.does(x.a, x.ids...)
		x.check(ann.state())
	}
	end := ann.state()
	for range steps {
		ann.does(ask{Act: hide.ActUndo})
	}
	assert.Equal(t, chart.Defects, ann.state().Defects, "all undone")
	_, status := ann.ask(ask{Act: hide.ActUndo})
	assert.Equal(t, http.StatusNotFound, status)
	for range steps {
		ann.does(ask{Act: hide.ActRedo})
	}
	again := ann.state()
	assert.Equal(t, end.Defects, again.Defects, "all redone")
	assert.Len(t, again.Notes, 1)
	after, err := os.ReadFile(filepath.Join(root, "H1", export.ChartName))
	require.NoError(t, err)
	assert.Equal(t, before, after, "a review never edits the chart")

	// what every later step reads is the same fold
	folded, err := export.ReadReviewed(filepath.Join(root, "H1"))
	require.NoError(t, err)
	assert.Equal(t, end.Defects, folded.Defects)
}

func TestRefusals(t *testing.T) {
	root := t.TempDir()
	writeHide(t, root, "H1", 6)
	_, h := newServer(t, root, nil)
	ann := newPerson(t, h, "H1", "Ann", "")
	for name, x := range map[string]struct {
		a      ask
		ids    []int
		status int
	}{
		"unknown act":     {ask{Act: "praise"}, []int{1}, 422},
		"unknown defect":  {ask{Act: hide.ActConfirm}, []int{99}, 404},
		"unknown kind":    {ask{Act: hide.ActKind, Kind: "dent"}, []int{1}, 422},
		"nothing chosen":  {ask{Act: hide.ActConfirm}, nil, 422},
		"off the hide":    {ask{Act: hide.ActAdd, Kind: hide.Scar, Drawn: &stroke{Shape: square(5000, 5000, 10, 10)}}, nil, 422},
		"no size":         {ask{Act: hide.ActAdd, Kind: hide.Scar, Drawn: &stroke{Shape: square(500, 500, 0, 0)}}, nil, 422},
		"cut that misses": {ask{Act: hide.ActSplit, Cut: []hide.Point{{X: 0, Y: 0}, {X: 1, Y: 0}}}, []int{1}, 422},
		"join one":        {ask{Act: hide.ActMerge}, []int{1}, 422},
		"short key":       {ask{Act: hide.ActConfirm, Key: "x"}, []int{1}, 422},
		"empty note":      {ask{Act: hide.ActNote, Text: "  "}, nil, 422},
	} {
		_, status := ann.ask(x.a, x.ids...)
		assert.Equal(t, x.status, status, name)
	}
	assert.NoFileExists(t, filepath.Join(root, "H1", export.ReviewName))
}

// The same request sent twice, as after an answer that was lost, is recorded once.
func TestSentTwiceIsRecordedOnce(t *testing.T) {
	root := t.TempDir()
	writeHide(t, root, "H1", 6)
	_, h := newServer(t, root, nil)
	ann := newPerson(t, h, "H1", "Ann", "")
	first := ann.does(ask{Act: hide.ActReject, Key: "the-same-key"}, 2)
	second, status := ann.ask(ask{Act: hide.ActReject, Key: "the-same-key"}, 2)
	require.Equal(t, http.StatusOK, status)
	assert.Equal(t, first.Decision.Seq, second.Decision.Seq)
	assert.Equal(t, 1, ann.state().Progress.Decided)
}

// Two reviewers at once: the second sees the first's decision; one made
// without having seen it is kept, shown as a conflict, and changes nothing until settled.
func TestTwoReviewers(t *testing.T) {
	root := t.TempDir()
	writeHide(t, root, "H1", 6)
	_, h := newServer(t, root, nil)
	ann, bob := newPerson(t, h, "H1", "Ann", ""), newPerson(t, h, "H1", "Bob", "")
	live := listen(t, h.URL+"/api/charts/H1/events")
	assert.Equal(t, "hello", (<-live).name)

	ann.does(ask{Act: hide.ActConfirm}, 1)
	e := <-live
	assert.Equal(t, "decision", e.name)
	assert.Equal(t, "Ann", e.Decision.Who)
	assert.Equal(t, hide.Confirmed, e.Touched[0].Defect.Status)

	out, status := bob.ask(ask{Act: hide.ActReject}, 1) // without having seen it
	require.Equal(t, http.StatusOK, status)
	assert.True(t, out.Held)
	s := bob.state()
	require.Len(t, s.Disputes, 1)
	assert.Equal(t, "Ann", s.Disputes[0].AgainstWho)
	assert.Equal(t, "Bob", s.Disputes[0].Who)
	assert.Equal(t, hide.Confirmed, s.find(1).Status, "the first stands")
	assert.Equal(t, 2, s.Progress.Decided, "none is lost")
	folded, err := export.ReadReviewed(filepath.Join(root, "H1"))
	require.NoError(t, err)
	assert.Equal(t, "review_disputed", folded.Flags[len(folded.Flags)-1].Code)

	bob.does(ask{Act: hide.ActReject}, 1) // with sight of both
	s = bob.state()
	assert.Empty(t, s.Disputes)
	assert.Equal(t, hide.Rejected, s.find(1).Status)

	_, status = ann.ask(ask{Act: hide.ActUndo})
	assert.Equal(t, http.StatusConflict, status, "Bob decided since")

	// both say the same: no conflict
	ann.does(ask{Act: hide.ActReject}, 2)
	bob.does(ask{Act: hide.ActReject}, 2)
}

type heard struct {
	name string
	change
}

func listen(t *testing.T, url string) <-chan heard {
	t.Helper()
	r, err := http.NewRequestWithContext(t.Context(), http.MethodGet, url, nil)
	require.NoError(t, err)
	res, err := http.DefaultClient.Do(r) //nolint:bodyclose // closed by the reader below
	require.NoError(t, err)
	require.Equal(t, "text/event-stream", res.Header.Get("Content-Type"))
	out := make(chan heard, 10)
	go func() {
		defer func() { _ = res.Body.Close() }()
		var e heard
		in := bufio.NewScanner(res.Body)
		in.Buffer(nil, 1<<20)
		for in.Scan() {
			switch line := in.Text(); {
			case strings.HasPrefix(line, "event: "):
				e.name = line[7:]
			case strings.HasPrefix(line, "data: "):
				_ = json.Unmarshal([]byte(line[6:]), &e.change)
			case line == "" && e.name != "":
				out <- e
				e = heard{}
			}
		}
	}()
	return out
}

// A blind review sees nothing of the first and changes no chart; their agreement
// is Cohen's kappa, here worked by hand: of 6 candidates Ann calls 4 flaws (1–4), Bob 3 (1, 2, 5):
// alike on 1, 2, 6: pₒ = 3/6; pₑ = 4/6·3/6 + 2/6·3/6 = 1/2; κ = 0.
func TestBlindReviewAndKappa(t *testing.T) {
	root := t.TempDir()
	writeHide(t, root, "H1", 6)
	_, h := newServer(t, root, nil)
	ann, bob := newPerson(t, h, "H1", "Ann", ""), newPerson(t, h, "H1", "Bob", blindPass)
	ann.does(ask{Act: hide.ActConfirm}, 1, 2, 3, 4)
	ann.does(ask{Act: hide.ActReject}, 5, 6)
	assert.Equal(t, 6, bob.state().Progress.Left, "sees nothing of it")
	bob.does(ask{Act: hide.ActConfirm}, 1, 2, 5)
	bob.does(ask{Act: hide.ActReject}, 3, 4, 6)
	var got struct {
		Flaw, Kind hide.Agreement
		Apart      []int
	}
	call(t, http.MethodGet, h.URL+"/api/charts/H1/agreement", nil, &got)
	assert.Equal(t, 6, got.Flaw.Count)
	assert.InDelta(t, 0.5, got.Flaw.Observed, 1e-12)
	assert.InDelta(t, 0, got.Flaw.Kappa, 1e-12)
	assert.Equal(t, []int{3, 4, 5}, got.Apart)
	var sum summary
	call(t, http.MethodGet, h.URL+"/api/charts/H1/summary", nil, &sum)
	assert.Equal(t, 2, sum.Blind)
	folded, err := export.ReadReviewed(filepath.Join(root, "H1"))
	require.NoError(t, err)
	assert.Equal(t, hide.Confirmed, folded.Defects[2].Status, "Ann's")
}

// The yield answered with a decision is what package yield says of the folded chart.
func TestYieldFollows(t *testing.T) {
	root := t.TempDir()
	writeHide(t, root, "H1", 18)
	_, h := newServer(t, root, nil)
	ann := newPerson(t, h, "H1", "Ann", "")
	ann.does(ask{Act: hide.ActReject}, 3)
	ann.does(ask{Act: hide.ActConfirm}, 4)
	got := ann.does(ask{Act: hide.ActAdd, Kind: hide.Stain, Drawn: &stroke{Shape: square(600, 500, 80, 60)}})
	folded, err := export.ReadReviewed(filepath.Join(root, "H1"))
	require.NoError(t, err)
	look, err := yield.FindLook("classic")
	require.NoError(t, err)
	want, err := yield.Cuttable(folded, look, yield.DefaultParams())
	require.NoError(t, err)
	require.NotNil(t, got.Yield)
	assert.InDelta(t, want.CuttableMM2.Median, got.Yield.Cuttable.Median, 1e-6*want.CuttableMM2.Median)
	assert.InDelta(t, want.CuttableMM2.P10, got.Yield.Cuttable.P10, 1e-6*want.CuttableMM2.P10)
	var l []string
	for _, w := range got.Yield.LookFirst {
		l = append(l, string(rune('0'+w.ID)))
	}
	assert.Len(t, l, 16, "every candidate that is left")
}

func TestListAndSummary(t *testing.T) {
	root := t.TempDir()
	writeHide(t, root, "H1", 6)
	writeHide(t, root, "H2", 3)
	require.NoError(t, os.Mkdir(filepath.Join(root, "not a chart"), 0o755))
	require.NoError(t, os.Symlink(filepath.Join(root, "H1"), filepath.Join(root, "link")))
	_, h := newServer(t, root, nil)
	var list struct{ Charts []row }
	call(t, http.MethodGet, h.URL+"/api/charts", nil, &list)
	assert.Equal(t, []row{{"H1"}, {"H2"}}, list.Charts)
	var s summary
	call(t, http.MethodGet, h.URL+"/api/charts/H1/summary", nil, &s)
	assert.Equal(t, 6, s.Progress.Left)
	assert.True(t, s.Picture)
	assert.Less(t, s.Yield.Cuttable.P10, s.Yield.Cuttable.P90)
}
