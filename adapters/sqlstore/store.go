package sqlstore

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"strings"
	"time"
	"unicode/utf8"
)

// Store is what a file and a database have in common: every table, read and
// written by one text a statement. Safe for use by several goroutines.
type Store struct {
	reader  *sql.DB // in SQLite its connections only read
	dialect dialect
	sql     words
}

// conn is a pool, one connection of it or a transaction.
type conn interface {
	ExecContext(ctx context.Context, query string, args ...any) (sql.Result, error)
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
	QueryRowContext(ctx context.Context, query string, args ...any) *sql.Row
}

// write runs do in a transaction: see dialect.
func (s *Store) write(ctx context.Context, what string, do func(context.Context, *tx) error) error {
	return wrap(ctx, what, s.dialect.write(ctx, do))
}

// one runs a statement that changes one row or none.
func (s *Store) one(ctx context.Context, what, query string, args ...any) (changed bool, err error) {
	var n int64
	err = s.dialect.single(ctx, func(ctx context.Context, on conn) (err error) {
		n, err = exec(ctx, on, query, args...)
		return err
	})
	return n > 0 && err == nil, wrap(ctx, what, err)
}

// snapshot is a transaction that reads the store as of one moment.
func (s *Store) snapshot(ctx context.Context) (*sql.Tx, error) {
	return s.reader.BeginTx(ctx, snapshotOptions)
}

// snapshotOptions are what SQLite's transactions are anyway.
var snapshotOptions = &sql.TxOptions{Isolation: sql.LevelRepeatableRead, ReadOnly: true}

// exec runs a statement and says how many rows it changed.
func exec(ctx context.Context, on conn, query string, args ...any) (int64, error) {
	if err := keepable(args); err != nil {
		return 0, err
	}
	res, err := on.ExecContext(ctx, query, args...)
	if err != nil {
		return 0, contextError(ctx, err)
	}
	return res.RowsAffected()
}

// scanner is a row.
type scanner interface{ Scan(into ...any) error }

// list are a query's rows.
func list[T any](ctx context.Context, on conn, scan func(scanner, *T) error, query string, args ...any) (all []T, err error) {
	err = each(ctx, on, func(row scanner) error {
		var one T
		if err := scan(row, &one); err != nil {
			return err
		}
		all = append(all, one)
		return nil
	}, query, args...)
	if err != nil {
		return nil, err
	}
	return all, nil
}

// each gives a query's rows one by one.
func each(ctx context.Context, on conn, give func(scanner) error, query string, args ...any) error {
	rows, err := on.QueryContext(ctx, query, args...)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		if err := give(rows); err != nil {
			return err
		}
	}
	return errors.Join(rows.Err(), rows.Close())
}

// found tells no row from an error.
func found(err error) (bool, error) {
	if errors.Is(err, sql.ErrNoRows) {
		return false, nil
	}
	return err == nil, err
}

// wrap says what was being done; nil where nothing failed.
func wrap(ctx context.Context, what string, err error) error {
	if err == nil {
		return nil
	}
	return fmt.Errorf("%s: %w", what, contextError(ctx, err))
}

// contextError has an error that came of the context's end say so: SQLite reports
// an interrupt, and a connection that is cut in the middle only that.
func contextError(ctx context.Context, err error) error {
	if end := ctx.Err(); err != nil && end != nil && !errors.Is(err, end) {
		return fmt.Errorf("%w: %w", end, err)
	}
	return err
}

// keepable refuses what not every store could keep: texts that are not UTF-8
// or hold a NUL, and figures that are no numbers. Texts as received are bytes
// and pass.
func keepable(args []any) error {
	for _, a := range args {
		switch a := a.(type) {
		case string:
			if !utf8.ValidString(a) || strings.ContainsRune(a, 0) {
				return fmt.Errorf("%.40q is not text: it holds a NUL or bytes that are not UTF-8", a)
			}
		case float64:
			if math.IsNaN(a) || math.IsInf(a, 0) {
				return fmt.Errorf("%v is not a figure", a)
			}
		}
	}
	return nil
}

// instant is a time as it is kept; both drivers cut a time themselves.
func instant(t time.Time) time.Time { return t.UTC().Truncate(time.Microsecond) }

// orNull is a time as it is kept where there may be none.
func orNull(t time.Time) any {
	if t.IsZero() {
		return nil
	}
	return t
}

// scanTime scans a time, which SQLite keeps as microseconds since 1970 and
// PostgreSQL gives in the zone of this process. NULL is the time zero.
type scanTime struct{ *time.Time }

// Scan reads the time.
func (t scanTime) Scan(v any) error {
	switch v := v.(type) {
	case nil:
		*t.Time = time.Time{}
	case int64:
		*t.Time = time.UnixMicro(v).UTC()
	case time.Time:
		*t.Time = v.UTC()
	default:
		return fmt.Errorf("%v is no time", v)
	}
	return nil
}

// scanJSON scans JSON.
type scanJSON struct{ into any }

// Scan reads the text.
func (j scanJSON) Scan(v any) error {
	switch v := v.(type) {
	case string:
		return json.Unmarshal([]byte(v), j.into)
	case []byte:
		return json.Unmarshal(v, j.into)
	}
	return fmt.Errorf("%T is no JSON", v)
}

// digest tells things from one another that may be long.
func digest(parts any) ([]byte, error) {
	b, err := json.Marshal(parts)
	if err != nil {
		return nil, err
	}
	sum := sha256.Sum256(b)
	return sum[:], nil
}
