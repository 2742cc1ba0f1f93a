package record

import (
	"database/sql"
	"maps"
	"slices"

	"hidechart/hide"
	"hidechart/record/stats"
)

// all stands for every kind or every zone in the sums.
const all = "*"

// settle makes a chart with its review the one that counts for a hide: the old
// figures leave the sums, the new ones come in.
func (t *tx) settle(hideID, chart int64, review sql.NullInt64, f hideFacts) error {
	if err := t.book(hideID, -1); err != nil {
		return err
	}
	if err := t.clear(hideID); err != nil {
		return err
	}
	counted := 0
	for _, d := range f.defects {
		if d.counts {
			counted++
		}
	}
	err := t.exec(`UPDATE hides SET form = ?, chart_id = ?, review_id = ?, area_mm2 = ?, u_mm2 = ?, stamp = ?, stamped_mm2 = ?, substance_mm = ?, temper = ?,
		candidates = ?, confirmed = ?, rejected = ?, added = ?, counted = ?, reviewed = ?, shape = ? WHERE id = ?`,
		f.form, chart, review, f.area, f.u, f.stamp, f.stamped, f.substance, f.temper,
		f.status[hide.Candidate], f.status[hide.Confirmed], f.status[hide.Rejected], f.status[hide.Added], counted, flag(review.Valid), f.shapeText(), hideID)
	if err != nil {
		return err
	}
	if err := t.putFacts(hideID, f); err != nil {
		return err
	}
	return t.book(hideID, 1)
}

func flag(v bool) int {
	if v {
		return 1
	}
	return 0
}

// clear takes away what was made from a hide's chart.
func (t *tx) clear(hideID int64) error {
	for _, table := range []string{"defects", "zone_areas", "readings", "yields"} {
		if err := t.exec("DELETE FROM "+table+" WHERE hide_id = ?", hideID); err != nil {
			return err
		}
	}
	return nil
}

func (t *tx) putFacts(hideID int64, f hideFacts) error {
	var rows [][]any
	for _, d := range f.defects {
		rows = append(rows, []any{hideID, d.ID, string(d.Kind), string(d.Zone), string(d.Status), d.Probability, flag(d.Open), flag(d.counts),
			round(float64(d.Area)), float64(d.Length), float64(d.Width), flag(d.placed), d.u, d.v})
	}
	if err := t.many("INSERT INTO defects (hide_id, n, kind, zone, status, probability, open, counts, area_mm2, length_mm, width_mm, placed, u, v) VALUES ", rows, ""); err != nil {
		return err
	}
	rows = nil
	for _, z := range slices.Sorted(maps.Keys(f.zones)) {
		rows = append(rows, []any{hideID, string(z), f.zones[z]})
	}
	if err := t.many("INSERT INTO zone_areas (hide_id, zone, cm2) VALUES ", rows, ""); err != nil {
		return err
	}
	rows = nil
	for i, r := range f.readings {
		rows = append(rows, []any{hideID, i, float64(r.MM), r.Place})
	}
	return t.many("INSERT INTO readings (hide_id, n, mm, place) VALUES ", rows, "")
}

// sums are a hide's shares in the tables of sums; keys are those tables'.
type sums struct {
	zone  map[string][]int64    // hides, cm2, cm2_sq
	kind  map[[2]string][]int64 // hides, n, n_sq, n_cm2, area_mm2
	place map[placeKey][]int64  // hides, marks
	times map[timesKey][]int64  // hides
	shape map[int][]int64       // hides, left, right
}

type placeKey struct {
	kind string
	cell int
}

type timesKey struct {
	kind        string
	marks, lean int
}

// row is what the sums need of a hide.
type row struct {
	supplier, lot, article int64
	month, form, shape     string
	area                   int64
	zones                  map[string]int64
	marks                  []placed
}

type placed struct {
	kind, zone string
	area       int64
	placed     bool
	u, v       float64
}

// book adds (sign 1) or takes away (−1) a hide's shares as the tables have it now. A hide
// without a chart has none.
func (t *tx) book(hideID int64, sign int64) error {
	r, ok, err := t.row(hideID)
	if err != nil || !ok {
		return err
	}
	return t.add(r, r.sums(), sign)
}

func (t *tx) row(hideID int64) (row, bool, error) {
	r := row{zones: map[string]int64{}}
	found, err := t.one(`SELECT l.supplier_id, h.lot_id, h.article_id, h.month, h.form, h.shape, h.area_mm2 FROM hides h JOIN lots l ON l.id = h.lot_id
		WHERE h.id = ? AND h.chart_id IS NOT NULL`, []any{hideID}, &r.supplier, &r.lot, &r.article, &r.month, &r.form, &r.shape, &r.area)
	if err != nil || !found {
		return r, false, err
	}
	err = t.each(func(rows *sql.Rows) error {
		var z string
		var cm2 int64
		if err := rows.Scan(&z, &cm2); err != nil {
			return err
		}
		r.zones[z] += cm2
		return nil
	}, "SELECT zone, cm2 FROM zone_areas WHERE hide_id = ?", hideID)
	if err != nil {
		return r, false, err
	}
	err = t.each(func(rows *sql.Rows) error {
		var p placed
		if err := rows.Scan(&p.kind, &p.zone, &p.area, &p.placed, &p.u, &p.v); err != nil {
			return err
		}
		r.marks = append(r.marks, p)
		return nil
	}, "SELECT kind, zone, area_mm2, placed, u, v FROM defects WHERE hide_id = ? AND counts = 1", hideID)
	return r, err == nil, err
}

// each reads rows inside a transaction.
func (t *tx) each(scan func(*sql.Rows) error, query string, args ...any) error {
	rows, err := t.QueryContext(t.ctx, bound(t.flavor, query), args...)
	if err != nil {
		return err
	}
	defer func() { _ = rows.Close() }() // Err tells
	for rows.Next() {
		if err := scan(rows); err != nil {
			return err
		}
	}
	return rows.Err()
}

func (r row) sums() sums {
	s := sums{zone: map[string][]int64{}, kind: map[[2]string][]int64{}, place: map[placeKey][]int64{}, times: map[timesKey][]int64{}, shape: map[int][]int64{}}
	r.zones[all] = round(float64(r.area) / 100)
	for z, a := range r.zones {
		s.zone[z] = []int64{1, a, a * a}
	}
	right, left := shapeFrom(r.shape)
	for i := range right {
		s.shape[i] = []int64{1, 0, right[i]}
		if len(left) > 0 {
			s.shape[i][1] = left[i]
		}
	}
	type tally struct{ n, area int64 }
	tallies := map[[2]string]*tally{}
	for _, m := range r.marks {
		for _, key := range [][2]string{{m.kind, m.zone}, {m.kind, all}, {all, m.zone}, {all, all}} {
			if tallies[key] == nil {
				tallies[key] = &tally{}
			}
			tallies[key].n++
			tallies[key].area += m.area
		}
	}
	for key, c := range tallies {
		s.kind[key] = []int64{1, c.n, c.n * c.n, c.n * r.zones[key[1]], c.area}
	}
	r.places(&s, len(right) > 0)
	return s
}

// places counts where marks lie. A hide without a frame has no places and is left out of the
// hides that are folded; one without marks of a kind counts among them.
func (r row) places(s *sums, framed bool) {
	if !framed {
		return
	}
	type tally struct{ n, left, right int }
	kinds := map[string]*tally{}
	for _, k := range hide.Kinds() {
		kinds[string(k)] = &tally{}
	}
	for _, m := range r.marks {
		k := kinds[m.kind]
		if !m.placed || k == nil {
			continue
		}
		k.n++
		if m.v < 0 {
			k.left++
		} else {
			k.right++
		}
		key := placeKey{m.kind, stats.Cell(m.u, m.v)}
		if s.place[key] == nil {
			s.place[key] = []int64{1, 0}
		}
		s.place[key][1]++
	}
	for name, k := range kinds {
		lean := 0
		if r.form == hide.WholeForm && k.left > k.right {
			lean = -1
		} else if r.form == hide.WholeForm && k.right > k.left {
			lean = 1
		}
		s.times[timesKey{name, k.n, lean}] = []int64{1}
	}
}

// sumTable is one table of sums: its key columns and its figures.
type sumTable struct {
	name          string
	keys, figures []string
	rows          [][]any
}

// tables lays a hide's shares out as rows, in a fixed order so that no two
// filings lock rows crosswise.
func (r row) tables(s sums, sign int64) []sumTable {
	lot := []any{r.lot, r.article, r.month}
	group := []any{r.supplier, r.article, r.form}
	lotKeys, groupKeys := []string{"lot_id", "article_id", "month"}, []string{"supplier_id", "article_id", "form"}
	out := []sumTable{
		{name: "zone_sums", keys: append(slices.Clone(lotKeys), "zone"), figures: []string{"hides", "cm2", "cm2_sq"}},
		{name: "kind_sums", keys: append(slices.Clone(lotKeys), "kind", "zone"), figures: []string{"hides", "n", "n_sq", "n_cm2", "area_mm2"}},
		{name: "place_sums", keys: append(slices.Clone(groupKeys), "kind", "cell"), figures: []string{"hides", "marks"}},
		{name: "times_sums", keys: append(slices.Clone(groupKeys), "kind", "marks", "lean"), figures: []string{"hides"}},
		{name: "shape_sums", keys: append(slices.Clone(groupKeys), "step"), figures: []string{"hides", "left_sum", "right_sum"}},
	}
	for z, v := range s.zone {
		out[0].add(lot, []any{z}, v, sign)
	}
	for k, v := range s.kind {
		out[1].add(lot, []any{k[0], k[1]}, v, sign)
	}
	for k, v := range s.place {
		out[2].add(group, []any{k.kind, k.cell}, v, sign)
	}
	for k, v := range s.times {
		out[3].add(group, []any{k.kind, k.marks, k.lean}, v, sign)
	}
	for k, v := range s.shape {
		out[4].add(group, []any{k}, v, sign)
	}
	return out
}

func (s *sumTable) add(group, key []any, figures []int64, sign int64) {
	line := append(slices.Clone(group), key...)
	for _, v := range figures {
		line = append(line, sign*v)
	}
	s.rows = append(s.rows, line)
}

// add writes a hide's shares.
func (t *tx) add(r row, s sums, sign int64) error {
	for _, table := range r.tables(s, sign) {
		columns := join(append(slices.Clone(table.keys), table.figures...))
		var set []string
		for _, f := range table.figures {
			set = append(set, f+" = "+table.name+"."+f+" + excluded."+f)
		}
		tail := " ON CONFLICT (" + join(table.keys) + ") DO UPDATE SET " + join(set)
		if err := t.many("INSERT INTO "+table.name+" ("+columns+") VALUES ", table.rows, tail); err != nil {
			return err
		}
	}
	return nil
}

func join(parts []string) string {
	out := ""
	for i, p := range parts {
		if i > 0 {
			out += ", "
		}
		out += p
	}
	return out
}
