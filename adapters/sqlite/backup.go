package sqlite

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"firn/bot/record"
)

// OpenThere is Open for a file that must be there already.
func OpenThere(ctx context.Context, path string) (*Store, error) {
	if _, err := os.Stat(path); err != nil {
		return nil, fmt.Errorf("store %s: %w", path, err)
	}
	return Open(ctx, path)
}

// Backup writes a copy of the store to a file that is not there yet, while
// others go on working with the store: the copy is the store as of one moment.
func (s *Store) Backup(ctx context.Context, path string) error {
	file, err := filepath.Abs(path)
	if err == nil {
		err = s.backup(ctx, file)
	}
	if err != nil {
		return fmt.Errorf("backup to %s: %w", path, because(ctx, err))
	}
	return nil
}

// errThere refuses to write over something.
var errThere = errors.New("it is there already, and is not written over")

func (s *Store) backup(ctx context.Context, file string) (err error) {
	if _, err := os.Lstat(file); !errors.Is(err, fs.ErrNotExist) {
		return errors.Join(err, errThere)
	}
	// Under another name until it is whole, so that a kill leaves no half of a
	// copy that looks like one.
	part := file + "-part"
	f, err := os.OpenFile(part, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
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
	if _, err := s.write.ExecContext(ctx, "VACUUM INTO ?", part); err != nil {
		return err
	}
	if err := markAsCopy(ctx, part); err != nil {
		return err
	}
	if err := synced(part); err != nil {
		return err
	}
	// Unlike a rename this does not write over what came meanwhile.
	if err := os.Link(part, file); err != nil {
		return err
	}
	return synced(filepath.Dir(file))
}

// markAsCopy has the copy know what it is.
func markAsCopy(ctx context.Context, file string) error {
	db, err := sql.Open("sqlite", address(file, "_pragma=journal_mode(DELETE)&_pragma=trusted_schema(0)"))
	if err != nil {
		return err
	}
	db.SetMaxOpenConns(1)
	_, err = exec(ctx, db, "UPDATE instance SET mark = ?", markCopy)
	return errors.Join(err, db.Close())
}

func synced(name string) error {
	f, err := os.Open(name)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}

// Restore puts a copy that Backup made in the place of a store that is not
// there, and proves the copy's history.
func Restore(ctx context.Context, from, to string) (record.Report, error) {
	report, err := restore(ctx, from, to)
	if err != nil {
		return report, fmt.Errorf("restore %s to %s: %w", from, to, because(ctx, err))
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
	f, err := os.OpenFile(to, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return report, err
	}
	defer func() {
		if err != nil {
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
	s, err := Open(ctx, to)
	if err != nil {
		return report, err
	}
	report, err = record.Verify(ctx, s)
	if err == nil {
		err = s.Restored(ctx) // also when somebody had opened the copy
	}
	return report, errors.Join(err, s.Close(), synced(filepath.Dir(to)))
}
