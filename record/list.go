package record

import (
	"context"
	"database/sql"
	"strings"
	"time"

	"hidechart/hide"
)

// Hide is a line of a list of hides.
type Hide struct {
	Supplier  string   `json:"supplier"`
	Lot       string   `json:"lot"`
	Hide      string   `json:"hide"`
	Article   string   `json:"article"`
	Form      string   `json:"form"`
	Whole     string   `json:"cut_from,omitempty"` // the hide that a side was cut from
	Filed     string   `json:"first_filed"`
	Area      hide.MM2 `json:"area_mm2"`
	U         hide.MM2 `json:"u_mm2"`
	Stamp     string   `json:"stamp,omitempty"`
	Stamped   hide.MM2 `json:"stamped_mm2,omitempty"`
	Substance hide.MM  `json:"substance_mm,omitempty"`
	Temper    string   `json:"temper,omitempty"`
	Flaws     int      `json:"flaws"`
	Reviewed  bool     `json:"reviewed"`
	Charts    int      `json:"charts"` // with those superseded
	SHA256    string   `json:"chart_sha256"`
	Cut       int      `json:"pieces_cut,omitempty"`
}

// Filter chooses hides. Empty fields leave it open.
type Filter struct {
	hide.SheetScope
	Search   string    // part of the name of hide, lot, supplier or article, whatever the case of ASCII letters
	Kind     hide.Kind // with a flaw of this kind
	Reviewed *bool
	Limit    int // 0: all
	Offset   int
}

// escape makes text harmless inside LIKE.
func escape(text string) string {
	return strings.NewReplacer(`\`, `\\`, "%", `\%`, "_", `\_`).Replace(text)
}

func (f Filter) where() (string, []any) {
	where, args := scope(f.SheetScope, "h.month")
	if f.Search != "" {
		like := "%" + escape(strings.ToLower(f.Search)) + "%"
		where += ` AND (LOWER(h.name) LIKE ? ESCAPE '\' OR LOWER(l.name) LIKE ? ESCAPE '\' OR LOWER(s.name) LIKE ? ESCAPE '\' OR LOWER(a.name) LIKE ? ESCAPE '\')`
		args = append(args, like, like, like, like)
	}
	if f.Kind != "" {
		where += " AND EXISTS (SELECT 1 FROM defects d WHERE d.hide_id = h.id AND d.kind = ? AND d.counts = 1)"
		args = append(args, string(f.Kind))
	}
	if f.Reviewed != nil {
		where += " AND h.reviewed = ?"
		args = append(args, flag(*f.Reviewed))
	}
	return where, args
}

// Hides lists hides in the order of their filing.
func (s *Store) Hides(ctx context.Context, f Filter) ([]Hide, error) {
	where, args := f.where()
	query := `SELECT s.name, l.name, h.name, a.name, h.form, h.first_filed, h.area_mm2, h.u_mm2, h.stamp, h.stamped_mm2, h.substance_mm, h.temper, h.counted, h.reviewed,
		(SELECT COUNT(*) FROM charts c WHERE c.hide_id = h.id), (SELECT c.sha256 FROM charts c WHERE c.id = h.chart_id),
		COALESCE((SELECT w.name FROM hides w WHERE w.id = h.whole_id), ''), CAST(COALESCE((SELECT SUM(k.pieces) FROM cuts k WHERE k.hide_id = h.id), 0) AS BIGINT)` + fromHides + where + " ORDER BY h.id"
	if f.Limit > 0 {
		query += " LIMIT " + itoa(f.Limit) + " OFFSET " + itoa(f.Offset)
	}
	out := []Hide{}
	err := s.each(ctx, func(r *sql.Rows) error {
		var h Hide
		if err := r.Scan(&h.Supplier, &h.Lot, &h.Hide, &h.Article, &h.Form, &h.Filed, &h.Area, &h.U, &h.Stamp, &h.Stamped, &h.Substance, &h.Temper, &h.Flaws, &h.Reviewed,
			&h.Charts, &h.SHA256, &h.Whole, &h.Cut); err != nil {
			return err
		}
		out = append(out, h)
		return nil
	}, query, args...)
	return out, err
}

// CountHides is the number of hides that a filter leaves.
func (s *Store) CountHides(ctx context.Context, f Filter) (int, error) {
	where, args := f.where()
	var n int
	_, err := s.get(ctx, "SELECT COUNT(*)"+fromHides+where, args, &n)
	return n, err
}

// Lot is a lot with what was agreed on.
type Lot struct {
	Supplier      string  `json:"supplier"`
	Lot           string  `json:"lot"`
	First         string  `json:"first_filed"`
	Hides         int     `json:"hides"`
	AreaM2        float64 `json:"area_m2"`
	Flaws         int     `json:"flaws"`
	PricePerM2    float64 `json:"price_per_m2,omitempty"`
	Currency      string  `json:"currency,omitempty"`
	PromisedRule  string  `json:"promised_rule,omitempty"`
	PromisedGrade string  `json:"promised_grade,omitempty"`
	Note          string  `json:"note,omitempty"`
}

// Lots lists lots with hides in them, the newest first.
func (s *Store) Lots(ctx context.Context, f Filter) ([]Lot, error) {
	where, args := f.where()
	out := []Lot{}
	err := s.each(ctx, func(r *sql.Rows) error {
		var l Lot
		var mm2 int64
		if err := r.Scan(&l.Supplier, &l.Lot, &l.First, &l.Hides, &mm2, &l.Flaws, &l.PricePerM2, &l.Currency, &l.PromisedRule, &l.PromisedGrade, &l.Note); err != nil {
			return err
		}
		l.AreaM2 = float64(mm2) / 1e6
		out = append(out, l)
		return nil
	}, `SELECT s.name, l.name, MIN(h.first_filed), COUNT(*), CAST(SUM(h.area_mm2) AS BIGINT), CAST(SUM(h.counted) AS BIGINT), l.price, l.currency, l.promised_rule, l.promised_grade, l.note`+
		fromHides+where+" GROUP BY s.name, l.id, l.name, l.price, l.currency, l.promised_rule, l.promised_grade, l.note ORDER BY MIN(h.first_filed) DESC, l.id DESC", args...)
	return out, err
}

// Supplier is a line of the list of suppliers.
type Supplier struct {
	Supplier string  `json:"supplier"`
	Lots     int     `json:"lots"`
	Hides    int     `json:"hides"`
	AreaM2   float64 `json:"area_m2"`
	Flaws    int     `json:"flaws"`
}

// Suppliers lists suppliers with hides, in the order of their names.
func (s *Store) Suppliers(ctx context.Context, f Filter) ([]Supplier, error) {
	where, args := f.where()
	out := []Supplier{}
	err := s.each(ctx, func(r *sql.Rows) error {
		var p Supplier
		var mm2 int64
		if err := r.Scan(&p.Supplier, &p.Lots, &p.Hides, &mm2, &p.Flaws); err != nil {
			return err
		}
		p.AreaM2 = float64(mm2) / 1e6
		out = append(out, p)
		return nil
	}, "SELECT s.name, COUNT(DISTINCT l.id), COUNT(*), CAST(SUM(h.area_mm2) AS BIGINT), CAST(SUM(h.counted) AS BIGINT)"+fromHides+where+" GROUP BY s.id, s.name ORDER BY s.name, s.id", args...)
	return out, err
}

// Months lists the months in which hides were first filed, the newest first.
func (s *Store) Months(ctx context.Context) ([]string, error) {
	var out []string
	err := s.each(ctx, func(r *sql.Rows) error {
		var m string
		err := r.Scan(&m)
		out = append(out, m)
		return err
	}, "SELECT DISTINCT month FROM hides ORDER BY month DESC")
	return out, err
}

// FindLot names the supplier of a lot; needed where two suppliers use one lot name.
// Errors: NotFound; Conflict when several suppliers have it, naming them.
func (s *Store) FindLot(ctx context.Context, supplier, lot string) (Lot, error) {
	lots, err := s.Lots(ctx, Filter{SheetScope: hide.SheetScope{Supplier: supplier, Lot: lot}})
	switch {
	case err != nil:
		return Lot{}, err
	case len(lots) == 0:
		return Lot{}, hide.Faultf(hide.NotFound, "record %s: no lot %q with hides in it", s.where, lot)
	case len(lots) > 1:
		var names []string
		for _, l := range lots {
			names = append(names, l.Supplier)
		}
		return Lot{}, hide.Faultf(hide.Conflict, "record %s: several suppliers have a lot %q (%s): say which with --supplier", s.where, lot, strings.Join(names, "; "))
	}
	return lots[0], nil
}

// ChartOf is the bytes of the chart of a hide that counts, and of its review (nil
// without one).
func (s *Store) ChartOf(ctx context.Context, chartSHA256 string) (chart, review []byte, err error) {
	var c, r []byte
	found, err := s.get(ctx, `SELECT c.data, (SELECT r.data FROM hides h JOIN reviews r ON r.id = h.review_id WHERE h.id = c.hide_id AND h.chart_id = c.id)
		FROM charts c WHERE c.sha256 = ?`, []any{chartSHA256}, &c, &r)
	if err != nil {
		return nil, nil, err
	}
	if !found {
		return nil, nil, hide.Faultf(hide.NotFound, "record %s: no chart %s", s.where, chartSHA256)
	}
	if chart, err = unpacked(c); err != nil || len(r) == 0 {
		return chart, nil, err
	}
	review, err = unpacked(r)
	return chart, review, err
}

// day is a date as the record prints it.
func day(t time.Time) string { return t.UTC().Format(time.DateOnly) }
