package record

import (
	"context"
	"embed"
	"errors"
	"io/fs"
	"time"

	"github.com/pressly/goose/v3"
	"github.com/pressly/goose/v3/lock"

	"hidechart/hide"
)

//go:embed migrations
var migrations embed.FS

// migrateTries is how often tables are made while another program makes them too:
// each try waits for the other's lock, so the second finds them made.
const migrateTries = 5

// migrate brings the tables up to date, and refuses those of a newer program.
func (s *Store) migrate(ctx context.Context) error {
	dir, dialect := "migrations/sqlite", goose.DialectSQLite3
	var options []goose.ProviderOption
	if s.flavor == postgres {
		dir, dialect = "migrations/postgres", goose.DialectPostgres
		locker, err := lock.NewPostgresSessionLocker()
		if err != nil {
			return s.fault(err, "lock")
		}
		options = append(options, goose.WithSessionLocker(locker))
	}
	files, err := fs.Sub(migrations, dir)
	if err != nil {
		return hide.Wrapf(hide.Internal, err, "migrations")
	}
	p, err := goose.NewProvider(dialect, s.db, files, options...)
	if err != nil {
		return s.fault(err, "open")
	}
	sources := p.ListSources()
	newest := sources[len(sources)-1].Version
	for try := 1; ; try++ {
		have, err := p.GetDBVersion(ctx)
		if err == nil && have > newest {
			return hide.Faultf(hide.Conflict, "record %s: a newer hidechart made it (tables %d, this program knows %d): use that version; nothing was changed", s.where, have, newest)
		}
		if err == nil && have < newest {
			_, err = p.Up(ctx)
		}
		if err == nil {
			return nil
		}
		if try == migrateTries || ctx.Err() != nil || errors.Is(s.fault(err, "open"), hide.Unreadable) {
			return s.fault(err, "open")
		}
		time.Sleep(time.Duration(try) * 50 * time.Millisecond)
	}
}
