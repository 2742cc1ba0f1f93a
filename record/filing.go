package record

import (
	"bytes"
	"compress/gzip"
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"io"
	"strings"
	"time"

	"hidechart/hide"
)

// Filing is a chart to be filed: the bytes of its file, and of the review beside
// it if there is one.
type Filing struct {
	Chart  []byte
	Review []byte
	At     time.Time // of the filing
}

// State is what a filing did.
type State string

// The states of a filing.
const (
	Filed     State = "filed"     // a hide that was not there
	Recharted State = "recharted" // another chart of a hide: the earlier one is kept, superseded
	Reviewed  State = "reviewed"  // the same chart with another review
	Known     State = "known"     // nothing new: nothing was changed
)

// Receipt says what was filed. It is given only after the record has it safe.
type Receipt struct {
	Hide     string `json:"hide"`
	Supplier string `json:"supplier"`
	Lot      string `json:"lot"`
	SHA256   string `json:"chart_sha256"`
	State    State  `json:"state"`
}

// File files charts, all in one transaction: all of them are in the record when it
// returns, or none. Filing the same again changes nothing. Photographs that the
// record knows belong to their hide: a chart that names another lot or supplier for
// them moves the hide.
//
// Errors: those of the reader; Invalid for a chart without a hide id or with a NUL in a name; Conflict
// when two hides of a lot would have one name, or the record is locked; Internal.
func (s *Store) File(ctx context.Context, filings ...Filing) ([]Receipt, error) {
	prepared := make([]entry, len(filings))
	for i, f := range filings {
		var err error
		if prepared[i], err = s.prepare(f); err != nil {
			return nil, err
		}
	}
	out := make([]Receipt, len(filings))
	err := s.write(ctx, "file", func(t *tx) error {
		for i := range prepared {
			var err error
			if out[i], err = t.file(&prepared[i]); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	return out, nil
}

// entry is a filing with everything worked out that needs no database.
type entry struct {
	Filing
	sum, reviewSum string
	chart          hide.Chart
	photographs    string
	facts          hideFacts
}

func (s *Store) prepare(f Filing) (entry, error) {
	e := entry{Filing: f, sum: hashOf(f.Chart)}
	if len(f.Review) > 0 {
		e.reviewSum = hashOf(f.Review)
	}
	var err error
	if e.chart, err = s.read(f.Chart, f.Review); err != nil {
		return e, err
	}
	c := e.chart.Capture
	if c.ID == "" {
		return e, hide.Faultf(hide.Invalid, "file: the chart names no hide (capture.id)")
	}
	for _, name := range []string{c.ID, c.Supplier, c.Lot, c.Article, c.Stamp, c.Temper, c.Note} {
		if strings.ContainsRune(name, 0) {
			return e, hide.Faultf(hide.Invalid, "file: a name or note of hide %q holds a NUL character", c.ID)
		}
	}
	e.photographs = photographsOf(c.Images, e.sum)
	e.facts = factsOf(e.chart)
	return e, nil
}

// photographsOf is one hash for a set of photographs; a chart without any stands
// for itself.
func photographsOf(images []hide.ImageFact, chartSum string) string {
	if len(images) == 0 {
		return "none:" + chartSum
	}
	h := sha256.New()
	for _, im := range images {
		_, _ = io.WriteString(h, string(im.Light)+" "+itoa(im.Tile)+" "+im.SHA256+"\n") // a hash takes everything
	}
	return hex.EncodeToString(h.Sum(nil))
}

func hashOf(data []byte) string {
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:])
}

// file files one entry.
func (t *tx) file(e *entry) (Receipt, error) {
	c := e.chart.Capture
	r := Receipt{Hide: c.ID, Supplier: c.Supplier, Lot: c.Lot, SHA256: e.sum, State: Filed}
	var chart, hideID int64
	known, err := t.one("SELECT id, hide_id FROM charts WHERE sha256 = ?", []any{e.sum}, &chart, &hideID)
	if err != nil {
		return r, err
	}
	if known {
		return t.fileReview(e, r, hideID, chart)
	}
	place, err := t.placeFor(c)
	if err != nil {
		return r, err
	}
	hideID, capture, isNew, err := t.hideFor(e, place)
	if err != nil {
		return r, err
	}
	if !isNew {
		r.State = Recharted
	}
	data, err := packed(e.Chart)
	if err != nil {
		return r, err
	}
	chart, err = t.insert("INSERT INTO charts (hide_id, capture_id, sha256, data, filed_at) VALUES (?, ?, ?, ?, ?)", hideID, capture, e.sum, data, stampOf(e.At))
	if err != nil {
		return r, err
	}
	if err := t.exec("UPDATE charts SET superseded_by = ? WHERE hide_id = ? AND superseded_by IS NULL AND id <> ?", chart, hideID, chart); err != nil {
		return r, err
	}
	review, err := t.putReview(e, chart)
	if err != nil {
		return r, err
	}
	return r, t.settle(hideID, chart, review, e.facts)
}

// fileReview is for a chart that is known: only its review can be new. A chart that has been
// superseded takes its review, but stays superseded.
func (t *tx) fileReview(e *entry, r Receipt, hideID, chart int64) (Receipt, error) {
	r.State = Known
	if e.reviewSum == "" {
		return r, nil
	}
	var id int64
	known, err := t.one("SELECT id FROM reviews WHERE chart_id = ? AND sha256 = ?", []any{chart, e.reviewSum}, &id)
	if err != nil || known {
		return r, err
	}
	r.State = Reviewed
	review, err := t.putReview(e, chart)
	if err != nil {
		return r, err
	}
	var current int64
	if _, err := t.one("SELECT chart_id FROM hides WHERE id = ?", []any{hideID}, &current); err != nil || current != chart {
		return r, err
	}
	return r, t.settle(hideID, chart, review, e.facts)
}

func (t *tx) putReview(e *entry, chart int64) (sql.NullInt64, error) {
	if e.reviewSum == "" {
		return sql.NullInt64{}, nil
	}
	data, err := packed(e.Review)
	if err != nil {
		return sql.NullInt64{}, err
	}
	id, err := t.insert("INSERT INTO reviews (chart_id, sha256, data, filed_at) VALUES (?, ?, ?, ?)", chart, e.reviewSum, data, stampOf(e.At))
	return sql.NullInt64{Int64: id, Valid: true}, err
}

// spot is where a hide belongs.
type spot struct{ supplier, lot, article int64 }

func (t *tx) placeFor(c hide.CaptureFacts) (spot, error) {
	var p spot
	var err error
	if p.supplier, err = t.named("suppliers", c.Supplier); err != nil {
		return p, err
	}
	if p.article, err = t.named("articles", c.Article); err != nil {
		return p, err
	}
	found, err := t.one("SELECT id FROM lots WHERE supplier_id = ? AND name = ?", []any{p.supplier, c.Lot}, &p.lot)
	if err == nil && !found {
		p.lot, err = t.insert("INSERT INTO lots (supplier_id, name) VALUES (?, ?)", p.supplier, c.Lot)
	}
	return p, err
}

func (t *tx) named(table, name string) (int64, error) {
	var id int64
	found, err := t.one("SELECT id FROM "+table+" WHERE name = ?", []any{name}, &id)
	if err == nil && !found {
		id, err = t.insert("INSERT INTO "+table+" (name) VALUES (?)", name)
	}
	return id, err
}

// hideFor finds or makes the hide and its capture.
func (t *tx) hideFor(e *entry, p spot) (hideID, capture int64, isNew bool, err error) {
	c := e.chart.Capture
	known, err := t.one("SELECT id, hide_id FROM captures WHERE photographs = ?", []any{e.photographs}, &capture, &hideID)
	if err != nil {
		return 0, 0, false, err
	}
	var named int64
	taken, err := t.one("SELECT id FROM hides WHERE lot_id = ? AND name = ?", []any{p.lot, c.ID}, &named)
	switch {
	case err != nil:
		return 0, 0, false, err
	case known && taken && named != hideID:
		return 0, 0, false, hide.Faultf(hide.Conflict, "file: the photographs of hide %q belong to another hide of the record, and lot %q has a hide of that name already: give one of them another id", c.ID, c.Lot)
	case known:
		return hideID, capture, false, t.move(hideID, p, c.ID)
	case taken:
		hideID = named
		err = t.move(hideID, p, c.ID) // the article may have been put right
	default:
		isNew = true
		at := stampOf(e.At)
		hideID, err = t.insert("INSERT INTO hides (lot_id, article_id, name, form, first_filed, month) VALUES (?, ?, ?, ?, ?, ?)",
			p.lot, p.article, c.ID, formOf(e.chart), at, at[:len("2006-01")])
	}
	if err != nil {
		return 0, 0, false, err
	}
	capture, err = t.putCapture(e, hideID)
	return hideID, capture, isNew, err
}

// move puts a hide where the chart says it belongs. Its old figures leave the sums first.
func (t *tx) move(hideID int64, p spot, name string) error {
	if err := t.book(hideID, -1); err != nil {
		return err
	}
	if err := t.clear(hideID); err != nil {
		return err
	}
	return t.exec("UPDATE hides SET lot_id = ?, article_id = ?, name = ?, chart_id = NULL WHERE id = ?", p.lot, p.article, name, hideID)
}

func (t *tx) putCapture(e *entry, hideID int64) (int64, error) {
	c := e.chart.Capture
	id, err := t.insert("INSERT INTO captures (hide_id, photographs, rig_sha256, temperature_c, humidity_percent, note) VALUES (?, ?, ?, ?, ?, ?)",
		hideID, e.photographs, e.chart.Frame.RigSHA256, c.TempC, c.Humidity, c.Note)
	if err != nil || len(c.Images) == 0 {
		return id, err
	}
	var rows [][]any
	for i, im := range c.Images {
		rows = append(rows, []any{id, i, string(im.Light), im.Tile, im.SHA256, im.WidthPX, im.HeightPX})
	}
	return id, t.many("INSERT INTO images (capture_id, n, light, tile, sha256, width_px, height_px) VALUES ", rows, "")
}

func formOf(c hide.Chart) string {
	if c.Side {
		return hide.SideForm
	}
	return hide.WholeForm
}

func packed(data []byte) ([]byte, error) {
	var b bytes.Buffer
	w, err := gzip.NewWriterLevel(&b, gzip.BestSpeed) // half as small again would cost six times as long
	if err == nil {
		_, err = w.Write(data)
	}
	if err == nil {
		err = w.Close()
	}
	if err != nil {
		return nil, hide.Wrapf(hide.Internal, err, "pack")
	}
	return b.Bytes(), nil
}

// mostUnpacked bounds what a damaged or hostile record can make of a few bytes.
const mostUnpacked = 512 << 20

func unpacked(data []byte) ([]byte, error) {
	r, err := gzip.NewReader(bytes.NewReader(data))
	if err != nil {
		return nil, hide.Wrapf(hide.Unreadable, err, "unpack")
	}
	out, err := io.ReadAll(io.LimitReader(r, mostUnpacked))
	if err != nil {
		return nil, hide.Wrapf(hide.Unreadable, err, "unpack")
	}
	return out, nil
}
