package sqlstore

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"github.com/pressly/goose/v3"

	"firn/bot/record"
)

// Backup copies the store in a file that is there, of whichever schema that
// this firn knows or has known, unless it was moved: see SQLite.Backup.
func Backup(ctx context.Context, from, to string) error {
	s, err := OpenSQLite(ctx, from, asItIs)
	if err != nil {
		return err
	}
	// A copy that is made each night would be the same for ever, and nobody told.
	if err = s.refuseMoved(ctx); err != nil {
		err = fmt.Errorf("store %s: %w", from, err)
	} else {
		err = s.Backup(ctx, to)
	}
	return errors.Join(err, s.Close())
}

// Backup writes a copy of the store to a file that is not there yet, while
// others go on working with the store: the copy is the store as of one moment.
func (s *SQLite) Backup(ctx context.Context, path string) error {
	file, err := filepath.Abs(path)
	if err == nil {
		err = s.backup(ctx, file)
	}
	if err != nil {
		return wrap(ctx, "backup to "+path, err)
	}
	return nil
}

// errThere refuses to write over something.
var errThere = errors.New("it is there already, and is not written over")

func (s *SQLite) backup(ctx context.Context, file string) (err error) {
	if _, err := os.Lstat(file); !errors.Is(err, fs.ErrNotExist) {
		return errors.Join(err, errThere)
	}
	// Under another name until it is whole, so that a kill leaves no half of a
	// copy that looks like one.
	part := file + "-part"
	f, err := os.OpenFile(part, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("there is no folder %s", filepath.Dir(file))
	}
	if errors.Is(err, fs.ErrExist) {
		return fmt.Errorf("%s is there: another backup is being made, or one was broken off: remove it then", part)
	}
	if err != nil {
		return err
	}
	defer func() {
		for _, end := range []string{"", "-journal", "-wal", "-shm"} {
			os.Remove(part + end)
		}
	}()
	if err := f.Close(); err != nil {
		return err
	}
	if _, err := s.writer.ExecContext(ctx, "VACUUM INTO $1", part); err != nil {
		return err
	}
	if s.schema >= markedSince {
		if err := markAsCopy(ctx, part); err != nil {
			return err
		}
	}
	if err := syncFile(part); err != nil {
		return err
	}
	// Unlike a rename this does not write over what came meanwhile.
	if err := os.Link(part, file); err != nil {
		return err
	}
	return syncFile(filepath.Dir(file))
}

// markAsCopy has the copy know what it is.
func markAsCopy(ctx context.Context, file string) error {
	db, err := sql.Open("sqlite", address(file, "_pragma=journal_mode(DELETE)&_pragma=trusted_schema(0)"))
	if err != nil {
		return err
	}
	db.SetMaxOpenConns(1)
	// The copy of a store that was moved still says so.
	_, err = exec(ctx, db, "UPDATE instance SET mark = $1 WHERE mark NOT LIKE $2", markCopy, markMoved+"%")
	if err == nil {
		err = sqliteWords.unserved(ctx, db)
	}
	return errors.Join(err, db.Close())
}

func syncFile(name string) error {
	f, err := os.Open(name)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}

// Restore puts a copy that Backup made in the place of a store that is not
// there, and proves the copy's history. The files are given to the folder's
// owner, where this process may do that. A copy of an older firn is put back as
// it is, unproved, and the error is an OldError.
func Restore(ctx context.Context, from, to string) (record.Report, error) {
	report, err := restore(ctx, from, to)
	if err != nil {
		return report, fmt.Errorf("restore %s to %s: %w", from, to, contextError(ctx, err))
	}
	return report, nil
}

func restore(ctx context.Context, from, to string) (report record.Report, err error) {
	// A log of the lost store beside another file would be taken for its own.
	for _, end := range []string{"", "-wal", "-shm", "-journal"} {
		if _, err := os.Lstat(to + end); !errors.Is(err, fs.ErrNotExist) {
			return report, errors.Join(err, fmt.Errorf("%s is there: stop firn and move it away first, with its -wal and -shm", to+end))
		}
	}
	if _, err := os.Stat(from + "-wal"); err == nil {
		return report, fmt.Errorf("%s-wal is there: this is a store in use and no copy made by firn backup", from)
	}
	data, err := os.Open(from)
	if err != nil {
		return report, err
	}
	defer data.Close()
	if err := os.MkdirAll(filepath.Dir(to), 0o700); err != nil {
		return report, err
	}
	serving, err := lockServing(to, "firn serve is still running, and writes to the file that was moved away: stop it first")
	if err != nil {
		return report, err
	}
	defer func() { err = errors.Join(err, serving.Close()) }()
	f, err := os.OpenFile(to, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return report, err
	}
	defer func() {
		if _, old := errors.AsType[OldError](err); err != nil && !old {
			for _, end := range []string{"", "-wal", "-shm", "-journal"} {
				os.Remove(to + end)
			}
		}
	}()
	if _, err := f.ReadFrom(data); err != nil {
		return report, errors.Join(err, f.Close())
	}
	if err := errors.Join(f.Sync(), f.Close()); err != nil {
		return report, err
	}
	known, err := known(goose.DialectSQLite3)
	if err != nil {
		return report, err
	}
	s, err := OpenSQLite(ctx, to, asItIs)
	if what, is := errors.AsType[damaged](err); is {
		// Of the copy, not of the store, in whose place there is nothing again.
		return report, fmt.Errorf("the copy is damaged or is no store of firn's: %s; nothing was put back: take another copy", string(what))
	}
	if errors.Is(err, ErrNone) {
		return report, errors.New("the copy is empty, or its making was broken off; nothing was put back: take another copy")
	}
	if err != nil {
		return report, err
	}
	old := s.schema < known
	if !old {
		report, err = record.Verify(ctx, s)
	}
	if err == nil {
		err = s.putBack(ctx, false) // also when somebody had opened the copy
	}
	if err = errors.Join(err, s.Close(), giveToOwner(to), syncFile(filepath.Dir(to))); err == nil && old {
		err = oldFile(s.schema, known)
	}
	return report, err
}

// giveToOwner gives a store's files to the owner of their folder, also those that
// stood there.
func giveToOwner(file string) error {
	uid, gid, other, err := folderOwner(file)
	if err != nil || !other {
		return err
	}
	for _, end := range []string{"", "-wal", "-shm", "-opening", "-serving"} {
		if err := os.Lchown(file+end, uid, gid); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return err
		}
	}
	return nil
}
