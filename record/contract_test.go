package record

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hidechart/hide"
)

// each runs one contract on both databases.
func onBoth(t *testing.T, contract func(*testing.T, *Store)) {
	t.Run("sqlite", func(t *testing.T) { contract(t, openSQLite(t)) })
	t.Run("postgres", func(t *testing.T) { contract(t, openPostgres(t)) })
}

// dump is the whole record in its open form, by file.
func dump(t *testing.T, s *Store) map[string]string {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "dump")
	require.NoError(t, s.Export(t.Context(), dir))
	out := map[string]string{}
	require.NoError(t, filepath.WalkDir(dir, func(path string, d os.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		data, err := os.ReadFile(path)
		name, _ := filepath.Rel(dir, path)
		out[name] = string(data)
		return err
	}))
	return out
}

func clean(t *testing.T, s *Store) CheckReport {
	t.Helper()
	r, err := s.Check(t.Context())
	require.NoError(t, err)
	assert.Empty(t, r.Findings)
	return r
}

func TestFilingTwiceChangesNothing(t *testing.T) {
	onBoth(t, func(t *testing.T, s *Store) {
		f := Filing{Chart: encoded(t, plain("h1", "A", "L1", flaw{hide.Scar, 500, 500})), At: testDay}
		got, err := s.File(t.Context(), f)
		require.NoError(t, err)
		assert.Equal(t, Filed, got[0].State)
		before := dump(t, s)
		f.At = testDay.AddDate(0, 1, 0)
		got, err = s.File(t.Context(), f)
		require.NoError(t, err)
		assert.Equal(t, Known, got[0].State)
		assert.Equal(t, before, dump(t, s))
		clean(t, s)
	})
}

func TestRechartSupersedesAndKeeps(t *testing.T) {
	onBoth(t, func(t *testing.T, s *Store) {
		old := encoded(t, plain("h1", "A", "L1", flaw{hide.Scar, 500, 500}, flaw{hide.Hole, 900, 500}))
		newer := encoded(t, plain("h1", "A", "L1", flaw{hide.Scar, 500, 500}))
		for _, data := range [][]byte{old, newer} {
			_, err := s.File(t.Context(), Filing{Chart: data, At: testDay})
			require.NoError(t, err)
		}
		hides, err := s.Hides(t.Context(), Filter{})
		require.NoError(t, err)
		require.Len(t, hides, 1)
		assert.Equal(t, hashOf(newer), hides[0].SHA256)
		assert.Equal(t, 2, hides[0].Charts)
		assert.Equal(t, 1, hides[0].Flaws)
		kept, _, err := s.ChartOf(t.Context(), hashOf(old))
		require.NoError(t, err)
		assert.Equal(t, old, kept)
		// the old one filed again does not come back
		got, err := s.File(t.Context(), Filing{Chart: old, At: testDay})
		require.NoError(t, err)
		assert.Equal(t, Known, got[0].State)
		known, counts, err := s.KnowsChart(t.Context(), hashOf(old))
		require.NoError(t, err)
		assert.True(t, known)
		assert.False(t, counts)
		assert.Equal(t, 2, clean(t, s).Charts)
	})
}

// A review changes what counts: one of two flaws is rejected, and the sums follow.
func TestReviewCounts(t *testing.T) {
	onBoth(t, func(t *testing.T, s *Store) {
		c := plain("h1", "A", "L1", flaw{hide.Scar, 500, 500}, flaw{hide.Stain, 900, 500})
		data := encoded(t, c)
		_, err := s.File(t.Context(), Filing{Chart: data, At: testDay})
		require.NoError(t, err)
		read, err := readChart(data, nil)
		require.NoError(t, err)
		after := read.Defects[1]
		after.Status = hide.Rejected
		line, err := json.Marshal(hide.Decision{Format: hide.DecisionFormat, Seq: 1, Key: "k", At: testDay, Who: "Ada", Chart: hashOf(data), Act: hide.ActReject,
			Seen: []int{0}, Before: []hide.Defect{read.Defects[1]}, After: []hide.Defect{after}})
		require.NoError(t, err)
		f := Filing{Chart: data, Review: append(line, '\n'), At: testDay}
		got, err := s.File(t.Context(), f)
		require.NoError(t, err)
		assert.Equal(t, Reviewed, got[0].State)
		got, err = s.File(t.Context(), f)
		require.NoError(t, err)
		assert.Equal(t, Known, got[0].State)
		sheet, err := s.Sheet(t.Context(), hide.SheetScope{Supplier: "A"}, testDay)
		require.NoError(t, err)
		assert.Equal(t, 1, sheet.Rates[0].Count)
		assert.Equal(t, 1, sheet.Review.Rejected)
		assert.Equal(t, 1, clean(t, s).Reviews)
	})
}

// The same photographs under a corrected lot are the same hide.
func TestPhotographsCarryTheirHide(t *testing.T) {
	onBoth(t, func(t *testing.T, s *Store) {
		c := plain("h1", "A", "L1", flaw{hide.Scar, 500, 500})
		c.Capture.Images = []hide.ImageFact{{Light: hide.Top, SHA256: hashOf([]byte("p")), WidthPX: 1, HeightPX: 1}}
		_, err := s.File(t.Context(), Filing{Chart: encoded(t, c), At: testDay})
		require.NoError(t, err)
		c.Capture.Lot = "L2"
		got, err := s.File(t.Context(), Filing{Chart: encoded(t, c), At: testDay})
		require.NoError(t, err)
		assert.Equal(t, Recharted, got[0].State)
		n, err := s.CountHides(t.Context(), Filter{})
		require.NoError(t, err)
		assert.Equal(t, 1, n)
		lots, err := s.Lots(t.Context(), Filter{})
		require.NoError(t, err)
		require.Len(t, lots, 1)
		assert.Equal(t, "L2", lots[0].Lot)
		clean(t, s)
	})
}

func TestAllOrNothing(t *testing.T) {
	onBoth(t, func(t *testing.T, s *Store) {
		_, err := s.File(t.Context(), Filing{Chart: encoded(t, plain("h1", "A", "L1")), At: testDay}, Filing{Chart: []byte("{}"), At: testDay})
		require.ErrorIs(t, err, hide.Invalid)
		n, err := s.CountHides(t.Context(), Filter{})
		require.NoError(t, err)
		assert.Zero(t, n)
	})
}

// awkward are names that break careless programs.
func awkward() []string {
	return []string{`O'Hara "& Sons"`, "two\nlines\r\nof name", "עור ופרווה", "جلود الشرق", "=HYPERLINK(\"x\")", "-1+2", "@x", "100 %_\\", "<b>bold</b> & co", "  spaced  ", "日本革", "e\u0301é", "\u202eevil"}
}

func TestAwkwardNames(t *testing.T) {
	onBoth(t, func(t *testing.T, s *Store) {
		for _, name := range awkward() {
			_, err := s.File(t.Context(), Filing{Chart: encoded(t, plain(name, name, name)), At: testDay})
			require.NoError(t, err)
		}
		for _, name := range awkward() {
			hides, err := s.Hides(t.Context(), Filter{SheetScope: hide.SheetScope{Supplier: name, Lot: name}})
			require.NoError(t, err)
			require.Len(t, hides, 1, "%q", name)
			assert.Equal(t, name, hides[0].Hide)
			sheet, err := s.Sheet(t.Context(), hide.SheetScope{Supplier: name}, testDay)
			require.NoError(t, err)
			assert.Equal(t, name, sheet.Lots[0].Supplier)
		}
		found, err := s.Hides(t.Context(), Filter{Search: "%_"})
		require.NoError(t, err)
		assert.Len(t, found, 1, "a search takes % and _ as they are")
		_, err = s.File(t.Context(), Filing{Chart: encoded(t, plain("a\x00b", "A", "L")), At: testDay})
		require.ErrorIs(t, err, hide.Invalid)
	})
}

func TestRoundTrip(t *testing.T) {
	onBoth(t, func(t *testing.T, s *Store) {
		season(t, s, 3, 4)
		ctx := t.Context()
		again := plain("h0", "Moorhen Hollow (invented)", "L0", flaw{hide.Scar, 100, 100})
		again.Capture.Images = []hide.ImageFact{{Light: hide.Top, SHA256: hashOf([]byte("0 0")), WidthPX: 10, HeightPX: 10}}
		side := plain("side", "Saltreed (invented)", "L1")
		side.Side, side.Backbone = true, [2]hide.Point{{X: 0, Y: 0}, {X: 2000, Y: 0}}
		_, err := s.File(ctx, Filing{Chart: encoded(t, again), At: testDay}, Filing{Chart: encoded(t, side), At: testDay})
		require.NoError(t, err)
		require.NoError(t, s.SetWhole(ctx, "Saltreed (invented)", "L1", "side", "h1"))
		price, money, grade := 62.5, "EUR", "II"
		require.NoError(t, s.SetTerms(ctx, "Saltreed (invented)", "L1", Terms{PricePerM2: &price, Currency: &money, PromisedGrade: &grade}))
		require.NoError(t, s.AddCut(ctx, "Saltreed (invented)", "L1", "h0", "front", 4, testDay))
		require.NoError(t, s.PutYields(ctx, Look{"classic", hashOf(nil)}, map[string]Yield{hashOf(encoded(t, again)): {0.8, 0.7, 0.9}}))
		proof, err := json.Marshal(hide.Proof{Format: hide.ProofFormat, RigSHA256: "r", Date: "2026-01-01"})
		require.NoError(t, err)
		_, err = s.AddCertificate(ctx, proof)
		require.NoError(t, err)
		require.NoError(t, s.PutClaim(ctx, "Saltreed (invented)", "L1", hashOf([]byte("pdf")), "claim.pdf", testDay))

		dir := filepath.Join(t.TempDir(), "open")
		require.NoError(t, s.Export(ctx, dir))
		for _, other := range []func(*testing.T) *Store{openSQLite, openPostgres} { // also from one database to the other
			t.Run("into", func(t *testing.T) {
				into := other(t)
				require.NoError(t, into.Import(t.Context(), dir))
				assert.Equal(t, dump(t, s), dump(t, into))
				require.NoError(t, into.Import(t.Context(), dir), "a second time")
				assert.Equal(t, dump(t, s), dump(t, into))
				clean(t, into)
				want, err := s.Sheet(t.Context(), hide.SheetScope{Supplier: "Saltreed (invented)"}, testDay)
				require.NoError(t, err)
				got, err := into.Sheet(t.Context(), hide.SheetScope{Supplier: "Saltreed (invented)"}, testDay)
				require.NoError(t, err)
				assert.Equal(t, want, got)
			})
		}
	})
}

func TestManyFileAtOnce(t *testing.T) {
	onBoth(t, func(t *testing.T, s *Store) {
		var wg sync.WaitGroup
		errs := make([]error, 12)
		for i := range errs {
			data := encoded(t, plain(fmt.Sprint("h", i/2), "A", "L1", flaw{hide.Scar, 500, 500})) // each twice
			wg.Go(func() { _, errs[i] = s.File(t.Context(), Filing{Chart: data, At: testDay}) })
		}
		wg.Wait()
		for _, err := range errs {
			require.NoError(t, err)
		}
		n, err := s.CountHides(t.Context(), Filter{})
		require.NoError(t, err)
		assert.Equal(t, 6, n)
		clean(t, s)
	})
}

// Sums that are wrong, and charts whose bytes are, are named; sums can be mended.
func TestCheckNamesWhatIsWrong(t *testing.T) {
	onBoth(t, func(t *testing.T, s *Store) {
		season(t, s, 2, 3)
		clean(t, s)
		ctx := t.Context()
		for _, q := range []string{"UPDATE kind_sums SET n = n + 1 WHERE zone = '*'", "UPDATE defects SET area_mm2 = area_mm2 + 7 WHERE hide_id = 1"} {
			_, err := s.db.ExecContext(ctx, q)
			require.NoError(t, err)
		}
		r, err := s.Check(ctx)
		require.NoError(t, err)
		assert.NotEmpty(t, r.Findings)
		_, err = s.db.ExecContext(ctx, "UPDATE defects SET area_mm2 = area_mm2 - 7 WHERE hide_id = 1")
		require.NoError(t, err)
		require.NoError(t, s.Mend(ctx))
		clean(t, s)
		data, err := packed([]byte("{}"))
		require.NoError(t, err)
		_, err = s.db.ExecContext(ctx, bound(s.flavor, "UPDATE charts SET data = ? WHERE id = 1"), data)
		require.NoError(t, err)
		r, err = s.Check(ctx)
		require.NoError(t, err)
		require.Len(t, r.Findings, 1)
		assert.Equal(t, "hash", r.Findings[0].What)
	})
}

func TestNewerRecordIsRefused(t *testing.T) {
	for _, where := range []func(*testing.T) string{
		func(t *testing.T) string { return filepath.Join(t.TempDir(), "r.db") }, postgresURL,
	} {
		at := where(t)
		s := openAt(t, at)
		_, err := s.db.ExecContext(t.Context(), "INSERT INTO goose_db_version (version_id, is_applied) VALUES (99, "+map[flavor]string{sqlite: "1", postgres: "TRUE"}[s.flavor]+")")
		require.NoError(t, err)
		_, err = Open(t.Context(), at, readChart)
		require.ErrorIs(t, err, hide.Conflict)
		require.ErrorContains(t, err, "a newer hidechart made it")
	}
}
