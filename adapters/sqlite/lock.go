package sqlite

import (
	"context"
	"database/sql"
	"fmt"
	"time"
)

// openingWait is how long an Open waits for another one of the same file.
const openingWait = 30 * time.Second

// lock keeps other processes from opening the file until unlock is called:
// setting the journal mode and making the schema are for one at a time. The
// lock is SQLite's own, on an empty file beside ours, and ends with the
// process.
func lock(ctx context.Context, file string) (unlock func(), err error) {
	name := file + "-opening"
	if err := create(name); err != nil {
		return nil, err
	}
	db, err := sql.Open("sqlite", address(name, fmt.Sprintf("_txlock=exclusive&_pragma=busy_timeout(%d)", openingWait.Milliseconds())))
	if err != nil {
		return nil, err
	}
	db.SetMaxOpenConns(1)
	tx, err := db.BeginTx(ctx, nil)
	if err != nil {
		db.Close()
		return nil, fmt.Errorf("another process is opening it: %w", because(ctx, err))
	}
	return func() {
		tx.Rollback() // nothing was written
		db.Close()
	}, nil
}
