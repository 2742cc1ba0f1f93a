package record

import (
	"errors"
	"os"
	"syscall"

	"github.com/jackc/pgx/v5/pgconn"
	sqlitedriver "modernc.org/sqlite"
	sqlitecode "modernc.org/sqlite/lib"

	"hidechart/hide"
)

// fault gives an error of the database its kind and says what to do. A fault
// that has a kind keeps it.
func (s *Store) fault(err error, what string) error {
	var known *hide.Fault
	if errors.As(err, &known) {
		return err
	}
	what = "record " + s.where + ": " + what
	var lite *sqlitedriver.Error
	if errors.As(err, &lite) {
		return sqliteFault(err, lite.Code(), what)
	}
	var pg *pgconn.PgError
	if errors.As(err, &pg) {
		return postgresFault(err, pg.Code, what)
	}
	var dial *pgconn.ConnectError
	switch {
	case errors.As(err, &dial):
		return hide.Wrapf(hide.Internal, err, "%s: the database does not answer: is it running, and are name and password right?", what)
	case errors.Is(err, syscall.ENOSPC):
		return hide.Wrapf(hide.Internal, err, "%s: %s", what, diskFull)
	case errors.Is(err, os.ErrPermission):
		return hide.Wrapf(hide.Internal, err, "%s: file or folder may not be written", what)
	}
	return hide.Wrapf(hide.Internal, err, "%s", what)
}

// What to do, in the words of both databases.
const (
	diskFull = "the disk is full: nothing of this was filed, what was filed before is safe; make room and run again"
	isLocked = "another program is writing to it: nothing of this was filed; try again when it is done"
	isBroken = "the file is damaged: keep a copy of it, write what can be read with records export, and go on from the last records backup; charts filed since can be filed again from their folders"
)

func sqliteFault(err error, code int, what string) error {
	switch code & 0xff { // extended codes carry the plain one in their low byte
	case sqlitecode.SQLITE_BUSY, sqlitecode.SQLITE_LOCKED:
		return hide.Wrapf(hide.Conflict, err, "%s: %s", what, isLocked)
	case sqlitecode.SQLITE_FULL:
		return hide.Wrapf(hide.Internal, err, "%s: %s", what, diskFull)
	case sqlitecode.SQLITE_CORRUPT:
		return hide.Wrapf(hide.Unreadable, err, "%s: %s", what, isBroken)
	case sqlitecode.SQLITE_NOTADB:
		return hide.Wrapf(hide.Unreadable, err, "%s: the file is no record (or its first page is damaged); name another file, or go on from the last records backup", what)
	case sqlitecode.SQLITE_READONLY, sqlitecode.SQLITE_CANTOPEN, sqlitecode.SQLITE_PERM:
		return hide.Wrapf(hide.Internal, err, "%s: file or folder may not be written", what)
	case sqlitecode.SQLITE_IOERR:
		return hide.Wrapf(hide.Internal, err, "%s: the disk refuses; nothing of this was filed; look at the disk and run again", what)
	}
	return hide.Wrapf(hide.Internal, err, "%s", what)
}

func postgresFault(err error, code, what string) error {
	switch code { // PostgreSQL documentation, appendix A
	case "53100":
		return hide.Wrapf(hide.Internal, err, "%s: %s", what, diskFull)
	case "55P03", "40001", "40P01":
		return hide.Wrapf(hide.Conflict, err, "%s: %s", what, isLocked)
	case "XX001", "XX002":
		return hide.Wrapf(hide.Unreadable, err, "%s: %s", what, isBroken)
	case "42501":
		return hide.Wrapf(hide.Internal, err, "%s: the database's user may not do this; grant it the rights", what)
	}
	return hide.Wrapf(hide.Internal, err, "%s", what)
}
