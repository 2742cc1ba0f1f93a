package record

import (
	"context"
	"database/sql"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"time"

	_ "github.com/jackc/pgx/v5/stdlib" // the driver "pgx"
	_ "modernc.org/sqlite"             // the driver "sqlite"

	"hidechart/hide"
)

// Reader folds a review over a chart: both are the bytes of their files, review
// is nil without one. The export package reads these files; the command hands it in.
type Reader func(chart, review []byte) (hide.Chart, error)

// Store is an open record. Its methods may be called from several goroutines and
// several programs at once.
type Store struct {
	db     *sql.DB
	flavor flavor
	where  string // for messages: the path, or the URL without its password
	path   string // SQLite only
	read   Reader
}

type flavor int

const (
	sqlite flavor = iota
	postgres
)

// busyMS is how long a filing waits for another program's: a filing takes a few
// milliseconds, so ten seconds outlast a queue of a thousand.
const busyMS = 10000

// cacheKiB is SQLite's page cache for each connection: the upper pages of every index of
// a record of 100,000 hides.
const cacheKiB = 32 << 10

// Open opens a record, and makes it if the file is not there: where is a path,
// or the URL of a PostgreSQL database (postgres://…). Tables are brought up to date.
// The caller closes it.
//
// Errors: Conflict for a record of a newer version of the program, or one that is locked; Unreadable
// for a file that is no record or is damaged; Internal from disk or network.
func Open(ctx context.Context, where string, read Reader) (*Store, error) {
	s := &Store{where: where, read: read}
	driver := "sqlite"
	var dsn string
	if u, err := url.Parse(where); err == nil && (u.Scheme == "postgres" || u.Scheme == "postgresql") {
		s.flavor, driver, dsn, s.where = postgres, "pgx", where, u.Redacted()
	} else {
		path, err := filepath.Abs(strings.TrimPrefix(where, "sqlite:"))
		if err != nil {
			return nil, hide.Wrapf(hide.Invalid, err, "record %s", where)
		}
		if info, err := os.Stat(filepath.Dir(path)); err != nil || !info.IsDir() {
			return nil, hide.Faultf(hide.NotFound, "record %s: there is no folder %s", where, filepath.Dir(path))
		}
		s.path, dsn = path, sqliteDSN(path)
	}
	db, err := sql.Open(driver, dsn)
	if err != nil {
		return nil, s.fault(err, "open")
	}
	s.db = db
	if s.flavor == sqlite {
		db.SetMaxOpenConns(4) // one writes; more readers than that only share two cores
	}
	if err := s.migrate(ctx); err != nil {
		_ = db.Close() // the first error matters
		return nil, err
	}
	return s, nil
}

// sqliteDSN sets what each connection needs: a journal that lets others read while
// one writes (WAL), each commit on the disk before it is told (FULL), foreign keys
// checked, transactions that take their lock at the start and so never fail half way.
func sqliteDSN(path string) string {
	q := url.Values{"_txlock": {"immediate"}, "_pragma": {
		"busy_timeout(" + itoa(busyMS) + ")", "journal_mode(WAL)", "synchronous(FULL)", "foreign_keys(1)", "cache_size(-" + itoa(cacheKiB) + ")"}}
	return (&url.URL{Scheme: "file", Path: path, RawQuery: q.Encode()}).String()
}

// Close closes the record.
func (s *Store) Close() error {
	if err := s.db.Close(); err != nil {
		return s.fault(err, "close")
	}
	return nil
}

// Where names the record for messages; a password is left out.
func (s *Store) Where() string { return s.where }

// Backup writes a whole copy of the record into a new file, while others go on
// reading and filing. Error: Conflict if the file is there; Invalid on PostgreSQL,
// which brings its own (pg_dump); Internal.
func (s *Store) Backup(ctx context.Context, path string) error {
	if s.flavor != sqlite {
		return hide.Faultf(hide.Invalid, "backup: PostgreSQL has its own: pg_dump; or write the record as open files with records export")
	}
	if _, err := os.Stat(path); err == nil {
		return hide.Faultf(hide.Conflict, "backup %s: the file is there; choose another name", path)
	}
	part := path + ".part"
	_ = os.Remove(part) // of a backup that was stopped
	if _, err := s.db.ExecContext(ctx, "VACUUM INTO ?", part); err != nil {
		_ = os.Remove(part)
		return s.fault(err, "backup into "+path)
	}
	if err := syncFile(part); err != nil {
		return hide.Wrapf(hide.Internal, err, "backup %s", path)
	}
	if err := os.Rename(part, path); err != nil {
		return hide.Wrapf(hide.Internal, err, "backup %s", path)
	}
	return nil
}

func syncFile(path string) error {
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		return err
	}
	if err := f.Sync(); err != nil {
		_ = f.Close()
		return err
	}
	return f.Close()
}

// write runs one transaction: all of it is there afterwards, or nothing.
func (s *Store) write(ctx context.Context, what string, do func(*tx) error) error {
	raw, err := s.db.BeginTx(ctx, nil)
	if err != nil {
		return s.fault(err, what)
	}
	t := &tx{Tx: raw, ctx: ctx, flavor: s.flavor}
	if s.flavor == postgres { // one filing at a time: the sums are shared rows
		if _, err := raw.ExecContext(ctx, "SELECT pg_advisory_xact_lock($1)", advisoryKey); err != nil {
			_ = raw.Rollback()
			return s.fault(err, what)
		}
	}
	if err := do(t); err != nil {
		_ = raw.Rollback() // the first error matters
		return s.fault(err, what)
	}
	if err := raw.Commit(); err != nil {
		return s.fault(err, what)
	}
	return nil
}

// advisoryKey is our own number among a database's locks: "hide" in ASCII.
const advisoryKey = 0x68696465

// stamp is how times are kept: UTC, to the millisecond, as text that sorts.
const stampForm = "2006-01-02T15:04:05.000Z"

func stampOf(t time.Time) string { return t.UTC().Format(stampForm) }

// IsFile tells whether a record's name is that of a file, not of a database.
func IsFile(where string) bool {
	u, err := url.Parse(where)
	return err != nil || u.Scheme != "postgres" && u.Scheme != "postgresql"
}
