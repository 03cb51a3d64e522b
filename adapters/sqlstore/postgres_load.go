package sqlstore

import (
	"cmp"
	"context"
	"database/sql"
	"fmt"
	"iter"
	"maps"
	"slices"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/stdlib"

	"firn/bot/record"
)

// Source is another store that is read from end to end. Its rows hold int64,
// float64, string, []byte or nil: times are microseconds since 1970 and truths
// are 0 and 1.
type Source interface {
	Tables(ctx context.Context) (map[string][]string, error)
	Count(ctx context.Context, table string) (int64, error)
	Rows(ctx context.Context, table string, columns []string) iter.Seq2[[]any, error]
}

// Loaded is how many rows of a table were taken over.
type Loaded struct {
	Table string
	Rows  int64
}

// seeded are the tables that the schema itself puts a row into, and what
// holds of that row while nothing was done.
var seeded = map[string]string{"history_head": "seq = 0", "instance": "true"}

// columns are a table's, by name, with their types.
type columns map[string]string

// Load takes everything over from another store, in one transaction. The
// database must hold nothing, and the same tables with the same columns; each
// must have as many rows as its source has; then check is asked, with the
// history as it is now.
func (s *Postgres) Load(ctx context.Context, from Source, check func(context.Context, record.Walker) error) ([]Loaded, error) {
	all, err := s.load(ctx, from, check)
	if err != nil {
		return nil, wrap(ctx, "load", err)
	}
	return all, nil
}

func (s *Postgres) load(ctx context.Context, from Source, check func(context.Context, record.Walker) error) (all []Loaded, err error) {
	theirs, err := from.Tables(ctx)
	if err != nil {
		return nil, err
	}
	conn, err := s.reader.Conn(ctx)
	if err != nil {
		return nil, err
	}
	defer conn.Close()
	tx, err := conn.BeginTx(ctx, nil)
	if err != nil {
		return nil, err
	}
	defer tx.Rollback() // after a commit it does nothing
	ours, err := tables(ctx, tx)
	if err != nil {
		return nil, err
	}
	if err := sameTables(theirs, ours); err != nil {
		return nil, err
	}
	names := slices.Sorted(maps.Keys(ours))
	if err := lockEmpty(ctx, tx, names); err != nil {
		return nil, err
	}
	for _, table := range names {
		n, err := copyTable(ctx, conn, table, theirs[table], ours[table], from)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", table, err)
		}
		want, err := from.Count(ctx, table)
		if err != nil {
			return nil, err
		}
		var have int64
		if err := tx.QueryRowContext(ctx, "SELECT count(*) FROM "+quoted(table)).Scan(&have); err != nil {
			return nil, err
		}
		if n != want || have != want {
			return nil, fmt.Errorf("%s: %d rows were read and %d are there, of %d", table, n, have, want)
		}
		all = append(all, Loaded{table, have})
	}
	if err := setSequences(ctx, tx, ours); err != nil {
		return nil, err
	}
	if _, err := tx.ExecContext(ctx, "UPDATE instance SET mark = ("+identity+")"); err != nil {
		return nil, err
	}
	if err := check(ctx, walker{tx}); err != nil {
		return nil, err
	}
	return all, tx.Commit()
}

// tables are the store's tables in this database.
func tables(ctx context.Context, tx *sql.Tx) (map[string]columns, error) {
	all := map[string]columns{}
	err := each(ctx, tx, func(row scanner) error {
		var table, column, kind string
		if err := row.Scan(&table, &column, &kind); err != nil {
			return err
		}
		if all[table] == nil {
			all[table] = columns{}
		}
		all[table][column] = kind
		return nil
	}, `
		SELECT c.table_name, c.column_name, c.data_type
		FROM information_schema.columns c JOIN information_schema.tables t USING (table_schema, table_name)
		WHERE t.table_schema = current_schema() AND t.table_type = 'BASE TABLE' AND t.table_name <> $1`, versions)
	return all, err
}

// sameTables refuses tables and columns that only one of the two has.
func sameTables(theirs map[string][]string, ours map[string]columns) error {
	for table, list := range theirs {
		if ours[table] == nil {
			return fmt.Errorf("the table %s has no place in this database", table)
		}
		for _, column := range list {
			if ours[table][column] == "" {
				return fmt.Errorf("the column %s of %s has no place in this database", column, table)
			}
		}
		if len(list) != len(ours[table]) {
			return fmt.Errorf("%s has %d columns in this database, and %d were to come", table, len(ours[table]), len(list))
		}
	}
	for table := range ours {
		if theirs[table] == nil {
			return fmt.Errorf("this database has a table %s that is not firn's, or is a newer firn's: give firn a database of its own", table)
		}
	}
	return nil
}

// lockEmpty locks the tables against everybody, refuses rows in them, and takes
// away those of the schema itself.
func lockEmpty(ctx context.Context, tx *sql.Tx, names []string) error {
	list := make([]string, len(names))
	for i, n := range names {
		list[i] = quoted(n)
	}
	if _, err := tx.ExecContext(ctx, "LOCK TABLE "+strings.Join(list, ", ")+" IN ACCESS EXCLUSIVE MODE"); err != nil {
		return err
	}
	for _, table := range names {
		still := cmp.Or(seeded[table], "false")
		var n int64
		if err := tx.QueryRowContext(ctx, "SELECT count(*) FROM "+quoted(table)+" WHERE NOT "+still).Scan(&n); err != nil {
			return err
		}
		if n > 0 {
			return fmt.Errorf("this database is not empty: %s has %d rows; it was left as it is: make a new one with CREATE DATABASE firn ENCODING 'UTF8' TEMPLATE template0", table, n)
		}
		if _, err := tx.ExecContext(ctx, "DELETE FROM "+quoted(table)); err != nil {
			return err
		}
	}
	return nil
}

// copyTable copies one table.
func copyTable(ctx context.Context, conn *sql.Conn, table string, list []string, kinds columns, from Source) (n int64, err error) {
	next, stop := iter.Pull2(from.Rows(ctx, table, list))
	defer stop()
	source := pgx.CopyFromFunc(func() ([]any, error) {
		row, err, more := next()
		if !more || err != nil {
			return nil, err
		}
		out := make([]any, len(row))
		for i, v := range row {
			if out[i], err = converted(v, kinds[list[i]]); err != nil {
				return nil, fmt.Errorf("%s: %w", list[i], err)
			}
		}
		return out, nil
	})
	// It is the connection on which the transaction is open.
	err = conn.Raw(func(driver any) error {
		c, ok := driver.(*stdlib.Conn)
		if !ok {
			return fmt.Errorf("%T is no connection of pgx", driver)
		}
		n, err = c.Conn().CopyFrom(ctx, pgx.Identifier{table}, list, source)
		return err
	})
	return n, err
}

// converted is a value as a column of a type takes it.
func converted(v any, kind string) (any, error) {
	switch v := v.(type) {
	case nil:
		return nil, nil
	case int64:
		switch kind {
		case "timestamp with time zone":
			return time.UnixMicro(v).UTC(), nil
		case "boolean":
			return v != 0, nil
		case "bigint":
			return v, nil
		}
	case float64:
		if kind == "double precision" {
			return v, keepable([]any{v})
		}
	case string:
		if kind == "text" || kind == "json" {
			return v, keepable([]any{v})
		}
	case []byte:
		if kind == "bytea" {
			return append([]byte{}, v...), nil // an empty one is not NULL
		}
	}
	return nil, fmt.Errorf("%T has no place in a column of type %s", v, kind)
}

// setSequences lets the numbers that the database gives go on behind those that
// came.
func setSequences(ctx context.Context, tx *sql.Tx, all map[string]columns) error {
	for table, list := range all {
		for column := range list {
			var sequence sql.NullString
			if err := tx.QueryRowContext(ctx, "SELECT pg_get_serial_sequence($1, $2)", quoted(table), column).Scan(&sequence); err != nil {
				return err
			}
			if !sequence.Valid {
				continue
			}
			if _, err := tx.ExecContext(ctx, fmt.Sprintf("SELECT setval($1, coalesce(max(%s), 1), max(%[1]s) IS NOT NULL) FROM %s", quoted(column), quoted(table)), sequence.String); err != nil {
				return err
			}
		}
	}
	return nil
}
