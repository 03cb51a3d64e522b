package sqlstore

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"time"

	"github.com/gofrs/flock"
)

// openingWait is how long an opening waits for another one of the same file.
const openingWait = 30 * time.Second

// lockOpening keeps other processes from opening the file until unlock is
// called: setting the journal mode and making the schema are for one at a time.
// The lock is SQLite's own, on a file beside ours that holds nothing but the
// mark of sqlite_instance.go, and ends with the process.
func lockOpening(ctx context.Context, file string) (opening *sql.Tx, unlock func() error, err error) {
	name := file + "-opening"
	if err := create(name); err != nil {
		return nil, nil, err
	}
	db, err := sql.Open("sqlite", address(name, fmt.Sprintf("_txlock=exclusive&_pragma=busy_timeout(%d)", openingWait.Milliseconds())))
	if err != nil {
		return nil, nil, err
	}
	db.SetMaxOpenConns(1)
	t, err := db.BeginTx(ctx, nil)
	if err != nil {
		db.Close()
		return nil, nil, wrap(ctx, "another process is opening it", err)
	}
	return t, func() error {
		return errors.Join(t.Commit(), db.Close()) // what was written is a mark
	}, nil
}

// serveAlone takes the lock of the one process that serves from a file, which
// ends with the process.
func serveAlone(file string) (*flock.Flock, error) {
	return lockServing(file, "another firn serve is running on this file: stop that one first, or give this one a store of its own; only a PostgreSQL database is for several")
}

// Alone takes a name for as long as unlock is not called. It is for who serves: no
// other process does, so that the names need no place outside of this one.
func (s *SQLite) Alone(_ context.Context, name string) (unlock func(context.Context) error, held bool, err error) {
	if _, taken := s.alone.LoadOrStore(name, true); taken {
		return nil, false, nil
	}
	return func(context.Context) error { s.alone.Delete(name); return nil }, true, nil
}

// takeOver ends the claims on posts of whoever served before: that process is gone,
// or this one would not serve, and what it had begun is looked up before it is sent.
func (s *SQLite) takeOver(ctx context.Context) error {
	_, err := exec(ctx, s.writer, "UPDATE outbox SET until = "+s.sql.now+" WHERE state = 'waiting' AND until > "+s.sql.now)
	return err
}

// Served says whether a process serves from the file: one at most does, and its lock
// ends with it. known is false where that cannot be seen: no such process has been
// there, or its lock is not for this one to look at.
func (s *SQLite) Served() (is, known bool) {
	if s.serving != nil {
		return true, true
	}
	if s.file == "" {
		return false, false
	}
	return served(s.file)
}

func served(file string) (is, known bool) {
	lock := flock.New(file+"-serving", flock.SetFlag(os.O_RDONLY))
	free, err := lock.TryRLock()
	if err = errors.Join(err, lock.Close()); err != nil {
		return false, false
	}
	return !free, true
}

// servingWait is how long who serves waits for one that only looks whether somebody does.
const servingWait = 200 * time.Millisecond

// lockServing takes that lock; taken says what to do when another process has it.
func lockServing(file, taken string) (*flock.Flock, error) {
	name := file + "-serving"
	if err := create(name); err != nil {
		return nil, err
	}
	lock := flock.New(name, flock.SetPermissions(0o600))
	waiting, cancel := context.WithTimeout(context.Background(), servingWait)
	defer cancel()
	held, err := lock.TryLockContext(waiting, servingWait/10)
	if !held && waiting.Err() != nil {
		err = errors.New(taken)
	}
	if err != nil {
		return nil, errors.Join(err, lock.Close())
	}
	return lock, nil
}

// InPlace says that the file this process has open is not at its path any more: a
// command finds another store there, and what is written here is lost to it.
func (s *SQLite) InPlace() error {
	if s.opened == nil {
		return nil
	}
	now, err := os.Stat(s.file)
	if err == nil && !os.SameFile(s.opened, now) {
		err = errors.New("another file is there")
	}
	if err != nil {
		return fmt.Errorf("store %s was moved away while this firn has it open (%w): what is written since is in the file that was moved; stop firn", s.file, err)
	}
	return nil
}
