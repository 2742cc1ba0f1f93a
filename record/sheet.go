package record

import (
	"cmp"
	"context"
	"database/sql"
	"slices"
	"strings"
	"time"

	"hidechart/hide"
	"hidechart/record/stats"
)

// scope turns a sheet's scope into a condition on lots l, suppliers s, articles a
// and a month column.
func scope(sc hide.SheetScope, month string) (string, []any) {
	parts, args := []string{"1 = 1"}, []any{}
	add := func(value, column string) {
		if value != "" {
			parts, args = append(parts, column+" = ?"), append(args, value)
		}
	}
	add(sc.Supplier, "s.name")
	add(sc.Lot, "l.name")
	add(sc.Article, "a.name")
	add(sc.Month, month)
	return strings.Join(parts, " AND "), args
}

const fromHides = " FROM hides h JOIN lots l ON l.id = h.lot_id JOIN suppliers s ON s.id = l.supplier_id JOIN articles a ON a.id = h.article_id WHERE h.chart_id IS NOT NULL AND "

const fromSums = " JOIN lots l ON l.id = x.lot_id JOIN suppliers s ON s.id = l.supplier_id JOIN articles a ON a.id = x.article_id WHERE "

// Sheet works out what the record knows of the hides in a scope. day is the
// date printed on it. Every figure comes from sums and one pass over the scope's
// hides, so it takes no longer for more flaws.
//
// Errors: NotFound when no hide is in scope; those of the database.
func (s *Store) Sheet(ctx context.Context, sc hide.SheetScope, day time.Time) (hide.Sheet, error) {
	out := hide.Sheet{Scope: sc, Made: day.Format(time.DateOnly)}
	for _, step := range []func(context.Context, *hide.Sheet) error{s.sheetHides, s.sheetLots, s.sheetYields, s.sheetRates, s.sheetCompare, s.sheetPlaces, s.sheetRepeats} {
		if err := step(ctx, &out); err != nil {
			return out, err
		}
		if out.Hides == 0 {
			return out, hide.Faultf(hide.NotFound, "record %s: no hide of %s", s.where, ScopeWords(sc))
		}
	}
	out.Notes = sheetNotes(out)
	return out, nil
}

// ScopeWords names a scope for people.
func ScopeWords(sc hide.SheetScope) string {
	var parts []string
	for _, p := range [][2]string{{"supplier", sc.Supplier}, {"lot", sc.Lot}, {"article", sc.Article}, {"month", sc.Month}} {
		if p[1] != "" {
			parts = append(parts, p[0]+" "+p[1])
		}
	}
	if len(parts) == 0 {
		return "the whole record"
	}
	return strings.Join(parts, ", ")
}

// sheetHides passes once over the hides in scope.
func (s *Store) sheetHides(ctx context.Context, out *hide.Sheet) error {
	where, args := scope(out.Scope, "h.month")
	var diff stats.Sums
	var rel float64
	err := s.each(ctx, func(r *sql.Rows) error {
		var form string
		var area, u, stamped, reviewed int64
		var v hide.SheetReview
		if err := r.Scan(&form, &area, &u, &stamped, &reviewed, &v.Candidates, &v.Confirmed, &v.Rejected, &v.Added); err != nil {
			return err
		}
		out.Hides++
		if form == hide.SideForm {
			out.Sides++
		}
		out.AreaM2 += float64(area) / 1e6
		out.Review.Hides += int(reviewed)
		out.Review.Candidates += v.Candidates
		out.Review.Confirmed += v.Confirmed
		out.Review.Rejected += v.Rejected
		out.Review.Added += v.Added
		if stamped > 0 {
			d := 100 * (float64(area)/float64(stamped) - 1)
			diff.Add(d)
			rel += 100 * float64(u) / float64(stamped)
			out.Stamp.MeasuredM2 += float64(area) / 1e6
			out.Stamp.StampedM2 += float64(stamped) / 1e6
			if d > 0 {
				out.Stamp.Above++
			} else if d < 0 {
				out.Stamp.Below++
			}
		}
		return nil
	}, "SELECT h.form, h.area_mm2, h.u_mm2, h.stamped_mm2, h.reviewed, h.candidates, h.confirmed, h.rejected, h.added"+fromHides+where+" ORDER BY h.id", args...)
	if err != nil {
		return err
	}
	if diff.N > 0 {
		out.Stamp.U = rel / float64(diff.N)
	}
	out.Stamp.Mean = stats.MeanEstimate(diff)
	out.Stamp.Whole = stats.WithCommon(out.Stamp.Mean, out.Stamp.U)
	out.Stamp.Test = stats.Paired(diff, out.Stamp.Above, out.Stamp.Below)
	return nil
}

// sheetLots lists the lots in the order of their first filing.
func (s *Store) sheetLots(ctx context.Context, out *hide.Sheet) error {
	where, args := scope(out.Scope, "h.month")
	err := s.each(ctx, func(r *sql.Rows) error {
		var l hide.SheetLot
		var area int64
		if err := r.Scan(&l.Supplier, &l.Lot, &l.Price, &l.Currency, &l.First, &l.Hides, &area, &l.Flaws); err != nil {
			return err
		}
		l.AreaM2 = float64(area) / 1e6
		l.First = l.First[:len(time.DateOnly)]
		out.Lots = append(out.Lots, l)
		return nil
	}, "SELECT s.name, l.name, l.price, l.currency, MIN(h.first_filed), COUNT(*), CAST(SUM(h.area_mm2) AS BIGINT), CAST(SUM(h.counted) AS BIGINT)"+fromHides+where+
		" GROUP BY s.name, l.id, l.name, l.price, l.currency ORDER BY MIN(h.first_filed), l.id", args...)
	if err != nil {
		return err
	}
	return nil
}

// sheetYields reads what was worked out of yields; see PutYields.
func (s *Store) sheetYields(ctx context.Context, out *hide.Sheet) error {
	where, args := scope(out.Scope, "h.month")
	byLook := map[string]*hide.SheetYield{}
	shares := map[string]*stats.Sums{}
	err := s.each(ctx, func(r *sql.Rows) error {
		var y hide.SheetYield
		var share, p10, p90, squares float64
		var n int
		if err := r.Scan(&y.SHA256, &y.Look, &n, &share, &squares, &p10, &p90); err != nil {
			return err
		}
		y.Of, y.P10, y.P90 = out.Hides, p10/float64(n), p90/float64(n)
		byLook[y.SHA256] = &y
		shares[y.SHA256] = &stats.Sums{N: n, Sum: share, SumSq: squares}
		return nil
	}, `SELECT y.look_sha256, MIN(y.look), COUNT(*), SUM(y.share), SUM(y.share * y.share), SUM(y.p10), SUM(y.p90) FROM yields y JOIN hides h ON h.id = y.hide_id
		JOIN lots l ON l.id = h.lot_id JOIN suppliers s ON s.id = l.supplier_id JOIN articles a ON a.id = h.article_id WHERE `+where+" GROUP BY y.look_sha256", args...)
	if err != nil {
		return err
	}
	for sum, y := range byLook {
		y.Share = stats.MeanEstimate(*shares[sum])
		out.Yields = append(out.Yields, *y)
	}
	slices.SortFunc(out.Yields, func(a, b hide.SheetYield) int {
		return cmp.Or(cmp.Compare(a.Look, b.Look), cmp.Compare(a.SHA256, b.SHA256))
	})
	return nil
}

func sheetNotes(s hide.Sheet) []string {
	notes := []string{
		"A flaw counts when a reviewer confirmed or drew it, or when it is a candidate with a probability of 0.5 or more. Areas of flaws are their own, without a margin; where flaws overlap they count twice.",
		"Intervals are of 95 %. Rates: exact Poisson, or negative binomial where hides differ by more than chance. Comparisons: lots are the units, corrected for their number (Holm).",
		"Measured and stamped areas can differ by method and humidity: the referee method of the contract decides.",
		"This supports an inspector and does not replace one. Bend loose areas to be sure; leather that carries load is judged by a trained person.",
	}
	if s.Hides < fewHides {
		notes = append([]string{"Few hides: the intervals are wide, and nothing here ranks a supplier."}, notes...)
	}
	return notes
}

// fewHides is the number below which a sheet says so: the share of a flaw that a tenth
// of the hides have is then known to no better than ± 10 points.
const fewHides = 30
