package sqlite

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"time"
)

// openingWait is how long an Open waits for another one of the same file.
const openingWait = 30 * time.Second

// lock keeps other processes from opening the file until unlock is called:
// setting the journal mode and making the schema are for one at a time. The
// lock is SQLite's own, on a file beside ours that holds nothing but the mark
// of instance.go, and ends with the process.
func lock(ctx context.Context, file string) (opening *sql.Tx, unlock func() error, err error) {
	name := file + "-opening"
	if err := create(name); err != nil {
		return nil, nil, err
	}
	db, err := sql.Open("sqlite", address(name, fmt.Sprintf("_txlock=exclusive&_pragma=busy_timeout(%d)", openingWait.Milliseconds())))
	if err != nil {
		return nil, nil, err
	}
	db.SetMaxOpenConns(1)
	tx, err := db.BeginTx(ctx, nil)
	if err != nil {
		db.Close()
		return nil, nil, fmt.Errorf("another process is opening it: %w", because(ctx, err))
	}
	return tx, func() error {
		return errors.Join(tx.Commit(), db.Close()) // what was written is a mark, see instance.go
	}, nil
}
