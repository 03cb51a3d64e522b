package sqlstore

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"iter"
	"path/filepath"
	"strings"
	"time"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"

	"firn/bot/record"
)

// aloneWait is how long others may take to let go of the file.
const aloneWait = 2 * time.Second

// SQLiteSource is a store's file that no other process has open, to be read from
// end to end.
type SQLiteSource struct {
	db   *sql.DB
	conn *sql.Conn
}

// Take opens a file that is there for oneself alone.
func Take(ctx context.Context, path string) (_ *SQLiteSource, err error) {
	file, err := filepath.Abs(path)
	if err != nil {
		return nil, fmt.Errorf("store %s: %w", path, err)
	}
	s, err := OpenSQLite(ctx, file, MustExist)
	if err != nil {
		return nil, err
	}
	if err := s.Close(); err != nil {
		return nil, fmt.Errorf("store %s: %w", file, err)
	}
	// In this mode SQLite shares the file with nobody, from the first look on.
	db, err := sql.Open("sqlite", address(file, fmt.Sprintf(
		"_pragma=locking_mode(EXCLUSIVE)&_pragma=busy_timeout(%d)&_pragma=synchronous(FULL)&_pragma=trusted_schema(0)", aloneWait.Milliseconds())))
	if err != nil {
		return nil, fmt.Errorf("store %s: %w", file, err)
	}
	defer func() {
		if err != nil {
			db.Close()
		}
	}()
	db.SetMaxOpenConns(1)
	conn, err := db.Conn(ctx)
	if err == nil {
		_, err = conn.ExecContext(ctx, "SELECT 1 FROM instance")
	}
	if e, ok := errors.AsType[*sqlite.Error](err); ok && e.Code()&0xff == sqlite3.SQLITE_BUSY {
		return nil, fmt.Errorf("store %s: another firn has it open; stop firn serve and every firn chat first", file)
	}
	if err != nil {
		return nil, wrap(ctx, "store "+file, err)
	}
	return &SQLiteSource{db, conn}, nil
}

// Close lets go of the file.
func (s *SQLiteSource) Close() error { return errors.Join(s.conn.Close(), s.db.Close()) }

// Tables are the names of all tables with those of their columns.
func (s *SQLiteSource) Tables(ctx context.Context) (map[string][]string, error) {
	all := map[string][]string{}
	err := each(ctx, s.conn, func(row scanner) error {
		var table, column string
		err := row.Scan(&table, &column)
		all[table] = append(all[table], column)
		return err
	}, `
		SELECT t.name, c.name FROM sqlite_schema AS t, pragma_table_info(t.name) AS c
		WHERE t.type = 'table' AND t.name <> $1 AND t.name NOT LIKE 'sqlite~_%' ESCAPE '~' ORDER BY t.name, c.cid`, versions)
	return all, wrap(ctx, "tables", err)
}

// Count is how many rows a table has.
func (s *SQLiteSource) Count(ctx context.Context, table string) (n int64, err error) {
	if err := s.conn.QueryRowContext(ctx, "SELECT count(*) FROM "+quoted(table)).Scan(&n); err != nil {
		return 0, wrap(ctx, "count "+table, err)
	}
	return n, nil
}

// Rows are a table's rows as SQLite keeps them: int64, float64, string, []byte
// or nil. A row is good until the next.
func (s *SQLiteSource) Rows(ctx context.Context, table string, columns []string) iter.Seq2[[]any, error] {
	return func(yield func([]any, error) bool) {
		fail := func(err error) { yield(nil, wrap(ctx, "read "+table, err)) }
		names := make([]string, len(columns))
		for i, c := range columns {
			names[i] = quoted(c)
		}
		rows, err := s.conn.QueryContext(ctx, "SELECT "+strings.Join(names, ", ")+" FROM "+quoted(table)+" ORDER BY rowid")
		if err != nil {
			fail(err)
			return
		}
		defer rows.Close()
		row, into := make([]any, len(columns)), make([]any, len(columns))
		for i := range row {
			into[i] = &row[i]
		}
		for rows.Next() {
			if err := rows.Scan(into...); err != nil {
				fail(err)
				return
			}
			if !yield(row, nil) {
				return
			}
		}
		if err := rows.Err(); err != nil {
			fail(err)
		}
	}
}

// Walk gives every entry of the history, then every record.
func (s *SQLiteSource) Walk(ctx context.Context, entry func(record.Sealed) error, each func(record.Stored) error) (record.Head, error) {
	t, err := s.conn.BeginTx(ctx, snapshotOptions)
	if err != nil {
		return record.Head{}, wrap(ctx, "history", err)
	}
	defer t.Rollback()
	return walker{t}.Walk(ctx, entry, each)
}

// Moved has the file say that everything in it is in another place since then:
// Open and the like refuse it until PutBack.
func (s *SQLiteSource) Moved(ctx context.Context, at time.Time) error {
	if _, err := s.conn.ExecContext(ctx, "UPDATE instance SET mark = $1", markMoved+at.UTC().Format(time.RFC3339)); err != nil {
		return wrap(ctx, "mark as moved", err)
	}
	return nil
}

func quoted(name string) string { return `"` + strings.ReplaceAll(name, `"`, `""`) + `"` }
