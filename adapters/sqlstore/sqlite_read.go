package sqlstore

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"os"

	"github.com/pressly/goose/v3"
)

// readSQLite opens a file to read alone: no lock, no mark, no log is written.
func readSQLite(ctx context.Context, file string) (_ *SQLite, err error) {
	known, err := known(goose.DialectSQLite3)
	if err != nil {
		return nil, err
	}
	still := reading(ctx, file)
	has, err := check(ctx, file, known, still)
	switch {
	case err != nil:
		return nil, err
	case has == 0:
		return nil, fmt.Errorf("%w: the file is empty, or its making was broken off", ErrNone)
	case has < known:
		return nil, oldFile(has, known)
	}
	db, err := sql.Open("sqlite", address(file, fmt.Sprintf("%s&_pragma=busy_timeout(%d)&_pragma=trusted_schema(0)", still, busyWait.Milliseconds())))
	if err != nil {
		return nil, err
	}
	db.SetMaxOpenConns(readers)
	s := &SQLite{Store: Store{reader: db, sql: sqliteWords}, writer: db, schema: has, commits: newGroupCommit(db), file: file}
	s.dialect = s
	if err := s.refuseMoved(ctx); err != nil {
		s.Close()
		return nil, err
	}
	return s, nil
}

// readOnly is the parameter by which SQLite opens a file and writes nothing to it.
const readOnly = "mode=ro"

// reading are the parameters by which a file can be read. SQLite makes its
// index of the log beside it even to read; where it cannot and there is no log,
// nobody has the file open, and it can be read as it lies.
func reading(ctx context.Context, file string) string {
	db, err := sql.Open("sqlite", address(file, readOnly))
	if err == nil {
		err = db.QueryRowContext(ctx, "SELECT count(*) FROM sqlite_schema").Scan(new(int))
		db.Close()
	}
	if _, log := os.Stat(file + "-wal"); err != nil && errors.Is(log, fs.ErrNotExist) {
		return readOnly + "&immutable=1"
	}
	return readOnly
}
