package sqlite

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

	"firn/bot/pagestate"
)

// Store is an open file. Safe for use by several goroutines.
type Store struct {
	write, read *sql.DB // one connection that writes, some that read
	now         func() time.Time
	schema      int64   // the file's
	upgraded    Upgrade // what Open did
	turns       turns
	tellers     pagestate.Tellers // who follows what this process changes
}

// Close ends the use of the file.
func (s *Store) Close() error {
	var errs []error
	for _, db := range []*sql.DB{s.read, s.write} { // the last one moves the log into the file
		if db != nil {
			errs = append(errs, db.Close())
		}
	}
	return errors.Join(errs...)
}

// runner is a connection pool or a transaction.
type runner interface {
	ExecContext(ctx context.Context, query string, args ...any) (sql.Result, error)
}

// exec runs a statement and says how many rows it changed.
func exec(ctx context.Context, r runner, query string, args ...any) (int64, error) {
	if err := keepable(args); err != nil {
		return 0, err
	}
	res, err := r.ExecContext(ctx, query, args...)
	if err != nil {
		return 0, because(ctx, err)
	}
	return res.RowsAffected()
}

// one runs a statement that changes one row or none.
func (s *Store) one(ctx context.Context, what, query string, args ...any) (changed bool, err error) {
	var n int64
	err = s.together(ctx, func(ctx context.Context, tx *sql.Tx) (err error) {
		n, err = exec(ctx, tx, query, args...)
		return err
	})
	if err != nil {
		return false, fmt.Errorf("%s: %w", what, err)
	}
	return n > 0, nil
}

// because has an error that came of the context's end say so: the driver
// reports an interrupt.
func because(ctx context.Context, err error) error {
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

// instant is a time as it is kept.
func instant(t time.Time) time.Time { return t.UTC().Truncate(time.Microsecond) }

// micros is the number that a time is kept as.
func micros(t time.Time) int64 { return instant(t).UnixMicro() }

// moment scans what micros made.
type moment struct{ *time.Time }

// Scan reads the number.
func (m moment) Scan(v any) error {
	n, ok := v.(int64)
	if !ok {
		return fmt.Errorf("%v is no time", v)
	}
	*m.Time = time.UnixMicro(n).UTC()
	return nil
}

// document scans JSON.
type document struct{ into any }

// Scan reads the text.
func (d document) Scan(v any) error {
	text, ok := v.(string)
	if !ok {
		return fmt.Errorf("%T is no JSON", v)
	}
	return json.Unmarshal([]byte(text), d.into)
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
