package record

import (
	"context"
	"database/sql"
	"encoding/json"
	"math"
	"time"

	"hidechart/hide"
)

// Terms are what was agreed on for a lot. Nil fields stay as they are.
type Terms struct {
	PricePerM2                                  *float64
	Currency, PromisedRule, PromisedGrade, Note *string
}

// SetTerms notes what was agreed on for a lot; the lot is made if it is not there.
// Error: Invalid for a price that is no amount.
func (s *Store) SetTerms(ctx context.Context, supplier, lot string, terms Terms) error {
	if p := terms.PricePerM2; p != nil && !(*p >= 0 && *p < 1e9) {
		return hide.Faultf(hide.Invalid, "price %g: want an amount per m²", *p)
	}
	return s.write(ctx, "lot", func(t *tx) error {
		place, err := t.placeFor(hide.CaptureFacts{Supplier: supplier, Lot: lot})
		if err != nil {
			return err
		}
		if terms.PricePerM2 != nil {
			if err := t.exec("UPDATE lots SET price = ? WHERE id = ?", *terms.PricePerM2, place.lot); err != nil {
				return err
			}
		}
		for _, set := range []struct {
			column string
			value  *string
		}{{"currency", terms.Currency}, {"promised_rule", terms.PromisedRule}, {"promised_grade", terms.PromisedGrade}, {"note", terms.Note}} {
			if set.value == nil {
				continue
			}
			if err := t.exec("UPDATE lots SET "+set.column+" = ? WHERE id = ?", *set.value, place.lot); err != nil {
				return err
			}
		}
		return nil
	})
}

// hideID finds a hide of a lot.
func (t *tx) hideID(supplier, lot, name string) (int64, error) {
	var id int64
	found, err := t.one("SELECT h.id FROM hides h JOIN lots l ON l.id = h.lot_id JOIN suppliers s ON s.id = l.supplier_id WHERE s.name = ? AND l.name = ? AND h.name = ?",
		[]any{supplier, lot, name}, &id)
	if err == nil && !found {
		err = hide.Faultf(hide.NotFound, "no hide %q in lot %q of %q", name, lot, supplier)
	}
	return id, err
}

// SetWhole notes that a side was cut from a whole hide of the record, of the same
// lot. Errors: NotFound; Invalid when the first is no side or the second no whole hide.
func (s *Store) SetWhole(ctx context.Context, supplier, lot, side, whole string) error {
	return s.write(ctx, "side", func(t *tx) error {
		var ids [2]int64
		for i, name := range []string{side, whole} {
			var err error
			if ids[i], err = t.hideID(supplier, lot, name); err != nil {
				return err
			}
			var form string
			if _, err := t.one("SELECT form FROM hides WHERE id = ?", []any{ids[i]}, &form); err != nil {
				return err
			}
			if want := [2]string{hide.SideForm, hide.WholeForm}[i]; form != want {
				return hide.Faultf(hide.Invalid, "hide %q is charted as a %s, want a %s", name, form, want)
			}
		}
		return t.exec("UPDATE hides SET whole_id = ? WHERE id = ?", ids[1], ids[0])
	})
}

// AddCut notes pieces that were cut from a hide.
func (s *Store) AddCut(ctx context.Context, supplier, lot, name, piece string, pieces int, at time.Time) error {
	if piece == "" || pieces < 1 || pieces > math.MaxInt32 {
		return hide.Faultf(hide.Invalid, "pieces cut: want a name and a number of 1 or more")
	}
	return s.write(ctx, "cut", func(t *tx) error {
		id, err := t.hideID(supplier, lot, name)
		if err != nil {
			return err
		}
		return t.exec("INSERT INTO cuts (hide_id, piece, pieces, noted_at) VALUES (?, ?, ?, ?)", id, piece, pieces, stampOf(at))
	})
}

// AddCertificate keeps the record of an acceptance test (hide.Proof, as JSON) for
// the rig it names; twice changes nothing. Error: Invalid for a file that is none.
func (s *Store) AddCertificate(ctx context.Context, data []byte) (hide.Proof, error) {
	var p hide.Proof
	if err := json.Unmarshal(data, &p); err != nil {
		return p, hide.Wrapf(hide.Invalid, err, "certificate")
	}
	if p.Format != hide.ProofFormat || p.RigSHA256 == "" {
		return p, hide.Faultf(hide.Invalid, "certificate: format %q, want %q with the hash of a rig file", p.Format, hide.ProofFormat)
	}
	packedData, err := packed(data)
	if err != nil {
		return p, err
	}
	return p, s.write(ctx, "certificate", func(t *tx) error {
		return t.exec("INSERT INTO certificates (sha256, rig_sha256, day, data) VALUES (?, ?, ?, ?) ON CONFLICT (sha256) DO NOTHING", hashOf(data), p.RigSHA256, p.Date, packedData)
	})
}

// Yield is the cuttable share of a hide under a look, 0–1.
type Yield struct{ Share, P10, P90 float64 }

// Look is a look that yields are kept for: its name and the hash of its file.
type Look struct{ Name, SHA256 string }

// Unyielded lists charts in scope without a yield under the look, by hash, in the order of
// filing; at most limit (0: all).
func (s *Store) Unyielded(ctx context.Context, sc hide.SheetScope, look Look, limit int) ([]string, error) {
	where, args := scope(sc, "h.month")
	query := "SELECT (SELECT c.sha256 FROM charts c WHERE c.id = h.chart_id)" + fromHides + where +
		" AND NOT EXISTS (SELECT 1 FROM yields y WHERE y.hide_id = h.id AND y.look_sha256 = ?) ORDER BY h.id"
	if limit > 0 {
		query += " LIMIT " + itoa(limit)
	}
	var out []string
	err := s.each(ctx, func(r *sql.Rows) error {
		var sum string
		err := r.Scan(&sum)
		out = append(out, sum)
		return err
	}, query, append(args, look.SHA256)...)
	return out, err
}

// PutYields keeps yields by the hash of the chart. A chart that no longer counts is left out: its
// yield would stand beside another's.
func (s *Store) PutYields(ctx context.Context, look Look, yields map[string]Yield) error {
	return s.write(ctx, "yields", func(t *tx) error {
		for sum, y := range yields {
			var id sql.NullInt64
			found, err := t.one("SELECT h.id FROM charts c JOIN hides h ON h.id = c.hide_id AND h.chart_id = c.id WHERE c.sha256 = ?", []any{sum}, &id)
			if err != nil {
				return err
			}
			if !found {
				continue
			}
			err = t.exec(`INSERT INTO yields (hide_id, look_sha256, look, share, p10, p90) VALUES (?, ?, ?, ?, ?, ?)
				ON CONFLICT (hide_id, look_sha256) DO UPDATE SET share = excluded.share, p10 = excluded.p10, p90 = excluded.p90`, id.Int64, look.SHA256, look.Name, y.Share, y.P10, y.P90)
			if err != nil {
				return err
			}
		}
		return nil
	})
}
