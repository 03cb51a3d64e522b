package jsonl

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"os"
	"path/filepath"
	"time"

	"github.com/gofrs/flock"
)

// file is one channel's file. Its methods are called by one goroutine at a
// time (see Box.with).
type file struct {
	name string
	path string
	busy chan struct{} // holds a token while somebody is at it
	index
}

// locked is a file that is open under its lock.
type locked struct {
	*os.File
	lock *flock.Flock
}

// Close gives the file and the lock back.
func (l locked) Close() error { return errors.Join(l.File.Close(), l.lock.Close()) }

// open opens the file under its lock. create makes it, and its folder, where
// they are missing; without it a missing file is fs.ErrNotExist.
func (b *Box) open(ctx context.Context, c *file, create bool) (f locked, err error) {
	for {
		if create {
			if err := b.make(c); err != nil {
				return f, err
			}
		}
		f, err := openLocked(ctx, c.path)
		switch {
		case err == nil:
			// It may have been moved away while the lock was waited for.
			there, err := os.Stat(c.path)
			here, err2 := f.Stat()
			under, err3 := f.lock.Stat()
			if err == nil && err2 == nil && err3 == nil && os.SameFile(there, here) && os.SameFile(here, under) {
				return f, nil
			}
			if err := f.Close(); err != nil {
				return f, err
			}
			if err != nil && !(errors.Is(err, fs.ErrNotExist) && create) {
				return f, err
			}
		case !(errors.Is(err, fs.ErrNotExist) && create):
			return f, err
		}
		if err := ctx.Err(); err != nil {
			return f, err
		}
	}
}

// askAgain is how long a lock that another process holds is left alone: a
// wait for it in the kernel cannot be called off.
const askAgain = 10 * time.Millisecond

// openLocked opens a file that is there under its lock, which ends with the
// process that has it, or waits for the context.
func openLocked(ctx context.Context, path string) (locked, error) {
	of, err := os.Stat(path)
	if err != nil {
		return locked{}, err
	}
	if !of.Mode().IsRegular() {
		return locked{}, errors.New("it is not a regular file")
	}
	l := flock.New(path, flock.SetFlag(os.O_RDWR))
	if _, err := l.TryLockContext(ctx, askAgain); err != nil {
		if ctx.Err() != nil {
			return locked{}, fmt.Errorf("another process holds the file: %w", err)
		}
		return locked{}, fmt.Errorf("lock: %w", err)
	}
	f, err := os.OpenFile(path, os.O_RDWR|os.O_APPEND, 0)
	if err != nil {
		return locked{}, errors.Join(err, l.Close())
	}
	return locked{f, l}, nil
}

// make makes the file where it is missing.
func (b *Box) make(c *file) error {
	if _, err := os.Stat(c.path); !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	if err := b.folder(); err != nil {
		return err
	}
	f, err := os.OpenFile(c.path, os.O_RDWR|os.O_APPEND|os.O_CREATE, 0o600)
	if err != nil {
		return err
	}
	// The name has to last as well as what stands under it.
	return errors.Join(b.made(c.path), b.syncFolder(b.dir), f.Close())
}

func (b *Box) made(path string) error {
	if b.Made == nil {
		return nil
	}
	return b.Made(path)
}

// folder makes the folder and its parents where they are missing.
func (b *Box) folder() error {
	if _, err := os.Stat(b.dir); !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	if err := os.MkdirAll(b.dir, 0o700); err != nil {
		return err
	}
	return errors.Join(b.made(b.dir), b.syncFolder(filepath.Dir(b.dir)))
}

func (b *Box) syncFolder(path string) error {
	d, err := os.Open(path)
	if err != nil {
		return err
	}
	return errors.Join(b.sync(d), d.Close())
}

// mend cuts off what stands behind the last whole line: a write that a kill
// or a full disk broke off, and that nobody was told had succeeded. The index
// must be up to date.
func (c *file) mend(ctx context.Context, log *slog.Logger, f *os.File) error {
	torn := c.of.Size() - c.upTo
	if torn == 0 {
		return nil
	}
	if err := f.Truncate(c.upTo); err != nil {
		return fmt.Errorf("cut off a torn line: %w", err)
	}
	log.WarnContext(ctx, "torn line cut off", "file", filepath.Base(c.path), "bytes", torn)
	return nil
}

// add appends one line and sees it to the disk. Where that fails the file is
// put back as it was, so that nobody finds a line that may not last.
func (b *Box) add(c *file, f *os.File, text []byte) (offset int64, err error) {
	offset = c.upTo
	_, err = b.write(f, text)
	if err == nil {
		err = b.sync(f)
	}
	if err == nil {
		return offset, nil
	}
	if back := f.Truncate(offset); back != nil {
		err = errors.Join(err, fmt.Errorf("take the line back: %w", back))
	}
	return 0, err
}
