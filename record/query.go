package record

import (
	"context"
	"database/sql"
	"errors"
	"strconv"
	"strings"
)

func itoa(n int) string { return strconv.Itoa(n) }

// tx is a transaction that takes queries with ? on either database.
type tx struct {
	*sql.Tx
	ctx    context.Context //nolint:containedctx // lives for one transaction, inside one call
	flavor flavor
}

// bound writes ? as the database wants it. Our queries hold no other ?.
func bound(f flavor, query string) string {
	if f == sqlite {
		return query
	}
	var b strings.Builder
	for n := 1; ; n++ {
		before, after, found := strings.Cut(query, "?")
		b.WriteString(before)
		if !found {
			return b.String()
		}
		b.WriteString("$" + itoa(n))
		query = after
	}
}

func (t *tx) exec(query string, args ...any) error {
	_, err := t.ExecContext(t.ctx, bound(t.flavor, query), args...)
	return err
}

// one reads one row into the pointers; found is false without one.
func (t *tx) one(query string, args []any, into ...any) (found bool, err error) {
	err = t.QueryRowContext(t.ctx, bound(t.flavor, query), args...).Scan(into...)
	if errors.Is(err, sql.ErrNoRows) {
		return false, nil
	}
	return err == nil, err
}

// insert makes a row and returns its id.
func (t *tx) insert(query string, args ...any) (int64, error) {
	var id int64
	err := t.QueryRowContext(t.ctx, bound(t.flavor, query+" RETURNING id"), args...).Scan(&id)
	return id, err
}

// many writes rows with one statement: head is "INSERT INTO t (a, b) VALUES ",
// tail may be an ON CONFLICT clause.
func (t *tx) many(head string, rows [][]any, tail string) error {
	const most = 500 // rows a statement: below SQLite's 32,766 and PostgreSQL's 65,535 values at 14 columns
	for len(rows) > 0 {
		n := min(most, len(rows))
		var args []any
		for _, r := range rows[:n] {
			args = append(args, r...)
		}
		row := "(" + strings.TrimSuffix(strings.Repeat("?,", len(rows[0])), ",") + "),"
		if err := t.exec(head+strings.TrimSuffix(strings.Repeat(row, n), ",")+tail, args...); err != nil {
			return err
		}
		rows = rows[n:]
	}
	return nil
}

// each reads rows outside a transaction; scan is called for each.
func (s *Store) each(ctx context.Context, scan func(*sql.Rows) error, query string, args ...any) error {
	rows, err := s.db.QueryContext(ctx, bound(s.flavor, query), args...)
	if err != nil {
		return s.fault(err, "read")
	}
	defer func() { _ = rows.Close() }() // read only: Err tells
	for rows.Next() {
		if err := scan(rows); err != nil {
			return s.fault(err, "read")
		}
	}
	if err := rows.Err(); err != nil {
		return s.fault(err, "read")
	}
	return nil
}

// get reads one row; found is false without one.
func (s *Store) get(ctx context.Context, query string, args []any, into ...any) (found bool, err error) {
	err = s.db.QueryRowContext(ctx, bound(s.flavor, query), args...).Scan(into...)
	if errors.Is(err, sql.ErrNoRows) {
		return false, nil
	}
	if err != nil {
		return false, s.fault(err, "read")
	}
	return true, nil
}
