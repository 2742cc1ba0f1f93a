package record

import (
	"bufio"
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"time"

	"hidechart/hide"
)

// TransferFormat names the version of the open form of a record.
const TransferFormat = "hidechart record 1"

// Lines of the open form: one JSON object a line. docs/record.md describes them.
type (
	lotLine struct {
		Supplier      string  `json:"supplier"`
		Lot           string  `json:"lot"`
		PricePerM2    float64 `json:"price_per_m2"`
		Currency      string  `json:"currency"`
		PromisedRule  string  `json:"promised_rule"`
		PromisedGrade string  `json:"promised_grade"`
		Note          string  `json:"note"`
	}
	filingLine struct {
		At     string `json:"at"`
		Chart  string `json:"chart_sha256"`            // charts/SHA256.json
		Review string `json:"review_sha256,omitempty"` // reviews/SHA256.jsonl
	}
	hideRef struct {
		Supplier string `json:"supplier"`
		Lot      string `json:"lot"`
		Hide     string `json:"hide"`
	}
	wholeLine struct {
		hideRef
		Whole string `json:"cut_from"`
	}
	cutLine struct {
		hideRef
		Piece  string `json:"piece"`
		Pieces int    `json:"pieces"`
		At     string `json:"at"`
	}
	yieldLine struct {
		Chart  string  `json:"chart_sha256"`
		Look   string  `json:"look"`
		SHA256 string  `json:"look_sha256"`
		Share  float64 `json:"share"`
		P10    float64 `json:"p10"`
		P90    float64 `json:"p90"`
	}
	certificateLine struct {
		SHA256 string `json:"sha256"` // certificates/SHA256.json
	}
	claimLine struct {
		Supplier string `json:"supplier"`
		Lot      string `json:"lot"`
		SHA256   string `json:"sha256"`
		At       string `json:"at"`
		Name     string `json:"name"`
	}
)

// Export writes the whole record as open files into a new or empty folder: JSON
// lines, and the charts, reviews and certificates as they were filed. The same
// record gives the same bytes. It reads one state of the record, whatever is filed meanwhile.
// Errors: Conflict for a folder with something in it; Internal.
func (s *Store) Export(ctx context.Context, dir string) error {
	if err := emptyFolder(dir); err != nil {
		return err
	}
	raw, err := s.db.BeginTx(ctx, &sql.TxOptions{ReadOnly: true, Isolation: s.reading()})
	if err != nil {
		return s.fault(err, "export")
	}
	defer func() { _ = raw.Rollback() }() // nothing was written
	x := &exporter{tx: &tx{Tx: raw, ctx: ctx, flavor: s.flavor}, dir: dir}
	for _, step := range []func() error{x.lots, x.filings, x.wholes, x.cuts, x.yields, x.certificates, x.claims} {
		if err := step(); err != nil {
			return s.fault(err, "export")
		}
	}
	head, err := json.Marshal(map[string]string{"format": TransferFormat})
	if err == nil { // last: a folder without it is not whole
		err = os.WriteFile(filepath.Join(dir, "record.json"), append(head, '\n'), 0o666)
	}
	if err != nil {
		return hide.Wrapf(hide.Internal, err, "export")
	}
	return nil
}

func (s *Store) reading() sql.IsolationLevel {
	if s.flavor == postgres {
		return sql.LevelRepeatableRead
	}
	return sql.LevelDefault // SQLite: one state anyway
}

func emptyFolder(dir string) error {
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return hide.Wrapf(hide.Internal, err, "export")
	}
	entries, err := os.ReadDir(dir)
	if err != nil {
		return hide.Wrapf(hide.Internal, err, "export")
	}
	if len(entries) > 0 {
		return hide.Faultf(hide.Conflict, "export: folder %s has something in it; name a new one", dir)
	}
	for _, sub := range []string{"charts", "reviews", "certificates"} {
		if err := os.Mkdir(filepath.Join(dir, sub), 0o777); err != nil {
			return hide.Wrapf(hide.Internal, err, "export")
		}
	}
	return nil
}

type exporter struct {
	*tx
	dir string
}

// lines writes a query's rows as one file; scan gives a row's line.
func (x *exporter) lines(name, query string, scan func(*sql.Rows) (any, error)) error {
	f, err := os.Create(filepath.Join(x.dir, name))
	if err != nil {
		return err
	}
	b := bufio.NewWriter(f)
	e := json.NewEncoder(b)
	e.SetEscapeHTML(false)
	err = x.each(func(r *sql.Rows) error {
		line, err := scan(r)
		if err != nil {
			return err
		}
		return e.Encode(line)
	}, query)
	return errors.Join(err, b.Flush(), f.Sync(), f.Close())
}

func (x *exporter) lots() error {
	return x.lines("lots.jsonl", "SELECT s.name, l.name, l.price, l.currency, l.promised_rule, l.promised_grade, l.note FROM lots l JOIN suppliers s ON s.id = l.supplier_id ORDER BY l.id",
		func(r *sql.Rows) (any, error) {
			var l lotLine
			err := r.Scan(&l.Supplier, &l.Lot, &l.PricePerM2, &l.Currency, &l.PromisedRule, &l.PromisedGrade, &l.Note)
			return l, err
		})
}

// filings writes each chart, then its reviews, in the order of their filing.
func (x *exporter) filings() error {
	return x.lines("filings.jsonl", `SELECT c.id AS chart, 0 AS review, c.filed_at, c.sha256, '', c.data FROM charts c
		UNION ALL SELECT r.chart_id, r.id, r.filed_at, c.sha256, r.sha256, r.data FROM reviews r JOIN charts c ON c.id = r.chart_id ORDER BY 1, 2`,
		func(r *sql.Rows) (any, error) {
			var l filingLine
			var chart, review int64
			var data []byte
			if err := r.Scan(&chart, &review, &l.At, &l.Chart, &l.Review, &data); err != nil {
				return nil, err
			}
			name := "charts/" + l.Chart + ".json"
			if review > 0 {
				name = "reviews/" + l.Review + ".jsonl"
			}
			return l, x.file(name, data)
		})
}

func (x *exporter) file(name string, data []byte) error {
	raw, err := unpacked(data)
	if err != nil {
		return err
	}
	return os.WriteFile(filepath.Join(x.dir, filepath.FromSlash(name)), raw, 0o666)
}

const refTables = " JOIN lots l ON l.id = h.lot_id JOIN suppliers s ON s.id = l.supplier_id "

func (x *exporter) wholes() error {
	return x.lines("sides.jsonl", "SELECT s.name, l.name, h.name, w.name FROM hides h"+refTables+"JOIN hides w ON w.id = h.whole_id ORDER BY h.id",
		func(r *sql.Rows) (any, error) {
			var l wholeLine
			err := r.Scan(&l.Supplier, &l.Lot, &l.Hide, &l.Whole)
			return l, err
		})
}

func (x *exporter) cuts() error {
	return x.lines("cuts.jsonl", "SELECT s.name, l.name, h.name, k.piece, k.pieces, k.noted_at FROM cuts k JOIN hides h ON h.id = k.hide_id"+refTables+"ORDER BY k.id",
		func(r *sql.Rows) (any, error) {
			var l cutLine
			err := r.Scan(&l.Supplier, &l.Lot, &l.Hide, &l.Piece, &l.Pieces, &l.At)
			return l, err
		})
}

func (x *exporter) yields() error {
	return x.lines("yields.jsonl", "SELECT c.sha256, y.look, y.look_sha256, y.share, y.p10, y.p90 FROM yields y JOIN hides h ON h.id = y.hide_id JOIN charts c ON c.id = h.chart_id ORDER BY h.id, y.look_sha256",
		func(r *sql.Rows) (any, error) {
			var l yieldLine
			err := r.Scan(&l.Chart, &l.Look, &l.SHA256, &l.Share, &l.P10, &l.P90)
			return l, err
		})
}

func (x *exporter) certificates() error {
	return x.lines("certificates.jsonl", "SELECT sha256, data FROM certificates ORDER BY sha256", func(r *sql.Rows) (any, error) {
		var l certificateLine
		var data []byte
		if err := r.Scan(&l.SHA256, &data); err != nil {
			return nil, err
		}
		return l, x.file("certificates/"+l.SHA256+".json", data)
	})
}

func (x *exporter) claims() error {
	return x.lines("claims.jsonl", "SELECT s.name, l.name, k.sha256, k.made_at, k.name FROM claims k JOIN lots l ON l.id = k.lot_id JOIN suppliers s ON s.id = l.supplier_id ORDER BY k.made_at, k.sha256",
		func(r *sql.Rows) (any, error) {
			var l claimLine
			err := r.Scan(&l.Supplier, &l.Lot, &l.SHA256, &l.At, &l.Name)
			return l, err
		})
}

// importBatch is how many filings share a transaction: so many that the disk's
// flush costs little, so few that others wait no more than about a second.
const importBatch = 50

// Import files what Export wrote, into a new record or one that has hides already. One that
// was stopped is taken up by running it again: what is there is left as it is.
// Errors: Unreadable and Invalid name the file and the line; Conflict as for File.
func (s *Store) Import(ctx context.Context, dir string) error {
	var head struct{ Format string }
	data, err := os.ReadFile(filepath.Join(dir, "record.json"))
	if err != nil {
		return hide.Wrapf(hide.Unreadable, err, "import: no whole record in %s", dir)
	}
	if err := json.Unmarshal(data, &head); err != nil || head.Format != TransferFormat {
		return hide.Faultf(hide.Invalid, "import: %s has the format %q, want %q", dir, head.Format, TransferFormat)
	}
	m := importer{s, ctx, dir}
	for _, step := range []func() error{m.lots, m.filings, m.wholes, m.cuts, m.yields, m.certificates, m.claims} {
		if err := step(); err != nil {
			return err
		}
	}
	return nil
}

type importer struct {
	*Store
	ctx context.Context //nolint:containedctx // lives for one call of Import
	dir string
}

// each reads a file line by line into T; a file that is missing has no lines.
func importLines[T any](m importer, name string, do func(T) error) error {
	f, err := os.Open(filepath.Join(m.dir, name))
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return hide.Wrapf(hide.Unreadable, err, "import")
	}
	defer func() { _ = f.Close() }() // read only
	d := json.NewDecoder(bufio.NewReader(f))
	d.DisallowUnknownFields()
	for n := 1; ; n++ {
		var line T
		if err := d.Decode(&line); errors.Is(err, io.EOF) {
			return nil
		} else if err != nil {
			return hide.Wrapf(hide.Invalid, err, "import: %s, line %d", name, n)
		}
		if err := do(line); err != nil {
			return hide.Wrapf(hide.KindOf(err), err, "import: %s, line %d", name, n)
		}
	}
}

func (m importer) lots() error {
	return importLines(m, "lots.jsonl", func(l lotLine) error {
		return m.SetTerms(m.ctx, l.Supplier, l.Lot, Terms{&l.PricePerM2, &l.Currency, &l.PromisedRule, &l.PromisedGrade, &l.Note})
	})
}

var hashForm = regexp.MustCompile(`^[0-9a-f]{64}$`)

// kept reads a file by its hash and checks it.
func (m importer) kept(folder, sum, ending string) ([]byte, error) {
	if !hashForm.MatchString(sum) { // also: no path out of the folder
		return nil, hide.Faultf(hide.Invalid, "%q is no SHA-256", sum)
	}
	data, err := os.ReadFile(filepath.Join(m.dir, folder, sum+ending))
	if err != nil {
		return nil, hide.Wrapf(hide.Unreadable, err, "%s", folder)
	}
	if hashOf(data) != sum {
		return nil, hide.Faultf(hide.Invalid, "%s/%s%s: the bytes are not those of the hash", folder, sum, ending)
	}
	return data, nil
}

func (m importer) filings() error {
	var batch []Filing
	flush := func() error {
		if len(batch) == 0 {
			return nil
		}
		_, err := m.File(m.ctx, batch...)
		batch = batch[:0]
		return err
	}
	err := importLines(m, "filings.jsonl", func(l filingLine) error {
		at, err := time.Parse(stampForm, l.At)
		if err != nil {
			return hide.Wrapf(hide.Invalid, err, "at")
		}
		f := Filing{At: at}
		if f.Chart, err = m.kept("charts", l.Chart, ".json"); err != nil {
			return err
		}
		if l.Review != "" {
			if f.Review, err = m.kept("reviews", l.Review, ".jsonl"); err != nil {
				return err
			}
		}
		if batch = append(batch, f); len(batch) == importBatch {
			return flush()
		}
		return nil
	})
	if err != nil {
		return err
	}
	return flush()
}

func (m importer) wholes() error {
	return importLines(m, "sides.jsonl", func(l wholeLine) error { return m.SetWhole(m.ctx, l.Supplier, l.Lot, l.Hide, l.Whole) })
}

func (m importer) cuts() error {
	return importLines(m, "cuts.jsonl", func(l cutLine) error {
		return m.write(m.ctx, "cut", func(t *tx) error {
			id, err := t.hideID(l.Supplier, l.Lot, l.Hide)
			if err != nil {
				return err
			}
			var n int
			found, err := t.one("SELECT 1 FROM cuts WHERE hide_id = ? AND piece = ? AND pieces = ? AND noted_at = ?", []any{id, l.Piece, l.Pieces, l.At}, &n)
			if err != nil || found {
				return err
			}
			return t.exec("INSERT INTO cuts (hide_id, piece, pieces, noted_at) VALUES (?, ?, ?, ?)", id, l.Piece, l.Pieces, l.At)
		})
	})
}

func (m importer) yields() error {
	looks := map[Look]map[string]Yield{}
	if err := importLines(m, "yields.jsonl", func(l yieldLine) error {
		look := Look{l.Look, l.SHA256}
		if looks[look] == nil {
			looks[look] = map[string]Yield{}
		}
		looks[look][l.Chart] = Yield{l.Share, l.P10, l.P90}
		return nil
	}); err != nil {
		return err
	}
	for look, yields := range looks {
		if err := m.PutYields(m.ctx, look, yields); err != nil {
			return err
		}
	}
	return nil
}

func (m importer) certificates() error {
	return importLines(m, "certificates.jsonl", func(l certificateLine) error {
		data, err := m.kept("certificates", l.SHA256, ".json")
		if err == nil {
			_, err = m.AddCertificate(m.ctx, data)
		}
		return err
	})
}

func (m importer) claims() error {
	return importLines(m, "claims.jsonl", func(l claimLine) error {
		return m.write(m.ctx, "claim", func(t *tx) error {
			place, err := t.placeFor(hide.CaptureFacts{Supplier: l.Supplier, Lot: l.Lot})
			if err != nil {
				return err
			}
			return t.exec("INSERT INTO claims (sha256, lot_id, made_at, name) VALUES (?, ?, ?, ?) ON CONFLICT (sha256) DO NOTHING", l.SHA256, place.lot, l.At, l.Name)
		})
	})
}
