package record

import (
	"context"
	"database/sql"
	"fmt"
	"slices"
)

// Finding is one thing that is wrong with a record.
type Finding struct {
	What string `json:"what"`
	Text string `json:"text"`
}

// CheckReport is what Check looked at and found.
type CheckReport struct {
	Hides    int       `json:"hides"`
	Charts   int       `json:"charts"`
	Reviews  int       `json:"reviews"`
	Findings []Finding `json:"findings"`
}

// mostFindings ends a list that says the same thing a thousand times.
const mostFindings = 100

func (r *CheckReport) addf(what, format string, args ...any) {
	if len(r.Findings) < mostFindings {
		r.Findings = append(r.Findings, Finding{what, fmt.Sprintf(format, args...)})
	}
}

// Check verifies a record: the database's own check; each chart and review unpacks and
// has its hash; each link leads somewhere and each hide has one chart that counts; what
// the tables keep of a chart is what the chart says; the sums are the sums. It reads
// everything once: about a millisecond a chart.
//
// What is wrong is in the report; an error says that the check itself could not be made.
func (s *Store) Check(ctx context.Context) (CheckReport, error) {
	r := CheckReport{Findings: []Finding{}}
	for _, step := range []func(context.Context, *CheckReport) error{s.checkDatabase, s.checkLinks, s.checkCharts, s.checkReviews, s.checkSums} {
		if err := step(ctx, &r); err != nil {
			return r, err
		}
	}
	return r, nil
}

func (s *Store) checkDatabase(ctx context.Context, r *CheckReport) error {
	if s.flavor != sqlite { // PostgreSQL checks each page it reads, and its foreign keys cannot be switched off
		return nil
	}
	err := s.each(ctx, func(rows *sql.Rows) error {
		var text string
		if err := rows.Scan(&text); err != nil {
			return err
		}
		if text != "ok" {
			r.addf("database", "%s: %s", text, isBroken)
		}
		return nil
	}, "PRAGMA integrity_check(20)")
	if err != nil {
		return err
	}
	return s.each(ctx, func(rows *sql.Rows) error {
		var table, parent string
		var id sql.NullInt64
		var key int
		if err := rows.Scan(&table, &id, &parent, &key); err != nil {
			return err
		}
		r.addf("link", "row %d of %s leads to no row of %s", id.Int64, table, parent)
		return nil
	}, "PRAGMA foreign_key_check")
}

// checkLinks asks for rows that contradict each other.
func (s *Store) checkLinks(ctx context.Context, r *CheckReport) error {
	for _, q := range []struct{ text, query string }{
		{"hide has no chart that counts", "SELECT h.name FROM hides h WHERE h.chart_id IS NULL OR NOT EXISTS (SELECT 1 FROM charts c WHERE c.id = h.chart_id AND c.hide_id = h.id AND c.superseded_by IS NULL)"},
		{"hide has several charts that count", "SELECT h.name FROM hides h WHERE (SELECT COUNT(*) FROM charts c WHERE c.hide_id = h.id AND c.superseded_by IS NULL) > 1"},
		{"hide counts a review of another chart", "SELECT h.name FROM hides h WHERE h.review_id IS NOT NULL AND NOT EXISTS (SELECT 1 FROM reviews r WHERE r.id = h.review_id AND r.chart_id = h.chart_id)"},
		{"chart's photographs belong to another hide", "SELECT c.sha256 FROM charts c JOIN captures p ON p.id = c.capture_id WHERE p.hide_id <> c.hide_id"},
		{"chart is superseded by another hide's", "SELECT c.sha256 FROM charts c JOIN charts d ON d.id = c.superseded_by WHERE d.hide_id <> c.hide_id"},
	} {
		err := s.each(ctx, func(rows *sql.Rows) error {
			var name string
			if err := rows.Scan(&name); err != nil {
				return err
			}
			r.addf("link", "%s: %s", q.text, name)
			return nil
		}, q.query)
		if err != nil {
			return err
		}
	}
	_, err := s.get(ctx, "SELECT COUNT(*) FROM hides", nil, &r.Hides)
	return err
}

// checkCharts reads every chart. Ids first: a reader that holds a cursor over gigabytes
// would keep others' filings in the journal.
func (s *Store) checkCharts(ctx context.Context, r *CheckReport) error {
	ids, err := s.ids(ctx, "SELECT id FROM charts ORDER BY id")
	if err != nil {
		return err
	}
	for _, id := range ids {
		var sum, name string
		var data, review []byte
		var counts bool
		var hideID int64
		found, err := s.get(ctx, `SELECT c.sha256, c.data, c.hide_id, h.name, CASE WHEN h.chart_id = c.id THEN 1 ELSE 0 END,
			CASE WHEN h.chart_id = c.id THEN (SELECT r.data FROM reviews r WHERE r.id = h.review_id) ELSE NULL END FROM charts c JOIN hides h ON h.id = c.hide_id WHERE c.id = ?`,
			[]any{id}, &sum, &data, &hideID, &name, &counts, &review)
		if err != nil {
			return err
		}
		if !found {
			continue // its link is named above, or it has been moved since
		}
		r.Charts++
		raw, err := unpacked(data)
		if err != nil || hashOf(raw) != sum {
			r.addf("hash", "chart %s of hide %s: the bytes kept are not those that were filed", sum, name)
			continue
		}
		if counts {
			if err := s.checkFacts(ctx, r, hideID, name, raw, review); err != nil {
				return err
			}
		}
	}
	return nil
}

func (s *Store) ids(ctx context.Context, query string) ([]int64, error) {
	var out []int64
	err := s.each(ctx, func(rows *sql.Rows) error {
		var id int64
		err := rows.Scan(&id)
		out = append(out, id)
		return err
	}, query)
	return out, err
}

// checkFacts compares the tables with what the chart says.
func (s *Store) checkFacts(ctx context.Context, r *CheckReport, hideID int64, name string, raw, packedReview []byte) error {
	var review []byte
	var err error
	if len(packedReview) > 0 {
		if review, err = unpacked(packedReview); err != nil {
			r.addf("hash", "review of hide %s: %v", name, err)
			return nil
		}
	}
	c, err := s.read(raw, review)
	if err != nil {
		r.addf("chart", "chart of hide %s cannot be read: %v", name, err)
		return nil // a finding, not a fault of the check
	}
	f := factsOf(c)
	var area, u, stamped int64
	var form string
	var counted, defects int
	found, err := s.get(ctx, "SELECT h.area_mm2, h.u_mm2, h.stamped_mm2, h.form, h.counted, (SELECT COUNT(*) FROM defects d WHERE d.hide_id = h.id) FROM hides h WHERE h.id = ?",
		[]any{hideID}, &area, &u, &stamped, &form, &counted, &defects)
	if err != nil || !found {
		return err
	}
	want := 0
	for _, d := range f.defects {
		want += flag(d.counts)
	}
	if area != f.area || u != f.u || stamped != f.stamped || form != f.form || counted != want || defects != len(f.defects) {
		r.addf("figures", "hide %s: the tables say %d mm², %d flaws of %d, the chart %d mm², %d of %d", name, area, counted, defects, f.area, want, len(f.defects))
	}
	return nil
}

func (s *Store) checkReviews(ctx context.Context, r *CheckReport) error {
	return s.each(ctx, func(rows *sql.Rows) error {
		var sum string
		var data []byte
		if err := rows.Scan(&sum, &data); err != nil {
			return err
		}
		r.Reviews++
		if raw, err := unpacked(data); err != nil || hashOf(raw) != sum {
			r.addf("hash", "review %s: the bytes kept are not those that were filed", sum)
		}
		return nil
	}, "SELECT sha256, data FROM reviews ORDER BY id")
}

// checkSums adds every hide up again and compares.
func (s *Store) checkSums(ctx context.Context, r *CheckReport) error {
	want := map[string]map[string][]int64{}
	err := s.write(ctx, "check", func(t *tx) error { // a transaction: no filing in between
		var ids []int64
		if err := t.each(func(rows *sql.Rows) error {
			var id int64
			err := rows.Scan(&id)
			ids = append(ids, id)
			return err
		}, "SELECT id FROM hides WHERE chart_id IS NOT NULL ORDER BY id"); err != nil {
			return err
		}
		var tables []sumTable
		for _, id := range ids {
			h, ok, err := t.row(id)
			if err != nil || !ok {
				return err
			}
			tables = h.tables(h.sums(), 1)
			collect(want, tables)
		}
		if tables == nil {
			tables = row{}.tables(sums{}, 1)
		}
		for _, table := range tables {
			if err := t.compare(r, table, want[table.name]); err != nil {
				return err
			}
		}
		return nil
	})
	return err
}

func collect(into map[string]map[string][]int64, tables []sumTable) {
	for _, t := range tables {
		if into[t.name] == nil {
			into[t.name] = map[string][]int64{}
		}
		for _, line := range t.rows {
			key := fmt.Sprint(line[:len(t.keys)])
			have := into[t.name][key]
			if have == nil {
				have = make([]int64, len(t.figures))
				into[t.name][key] = have
			}
			for i := range have {
				have[i] += line[len(t.keys)+i].(int64) //nolint:errcheck // put there by sumTable.add
			}
		}
	}
}

func (t *tx) compare(r *CheckReport, table sumTable, want map[string][]int64) error {
	seen := 0
	err := t.each(func(rows *sql.Rows) error {
		keys, figures := make([]any, len(table.keys)), make([]int64, len(table.figures))
		var into []any
		for i := range keys {
			into = append(into, &keys[i])
		}
		for i := range figures {
			into = append(into, &figures[i])
		}
		if err := rows.Scan(into...); err != nil {
			return err
		}
		for i, k := range keys { // SQLite gives text as bytes into any
			if b, ok := k.([]byte); ok {
				keys[i] = string(b)
			}
		}
		if figures[0] == 0 {
			return nil // what left again
		}
		seen++
		if !slices.Equal(want[fmt.Sprint(keys)], figures) {
			r.addf("sums", "%s %v: kept %v, counted %v", table.name, keys, figures, want[fmt.Sprint(keys)])
		}
		return nil
	}, "SELECT "+join(table.keys)+", "+join(table.figures)+" FROM "+table.name)
	if err == nil && seen != len(want) {
		r.addf("sums", "%s: kept %d rows, counted %d", table.name, seen, len(want))
	}
	return err
}

// Mend adds every hide up again and writes the sums anew: for a record whose check
// names sums.
func (s *Store) Mend(ctx context.Context) error {
	return s.write(ctx, "mend", func(t *tx) error {
		for _, table := range (row{}).tables(sums{}, 1) {
			if err := t.exec("DELETE FROM " + table.name); err != nil {
				return err
			}
		}
		var ids []int64
		if err := t.each(func(rows *sql.Rows) error {
			var id int64
			err := rows.Scan(&id)
			ids = append(ids, id)
			return err
		}, "SELECT id FROM hides WHERE chart_id IS NOT NULL ORDER BY id"); err != nil {
			return err
		}
		for _, id := range ids {
			if err := t.book(id, 1); err != nil {
				return err
			}
		}
		return nil
	})
}
