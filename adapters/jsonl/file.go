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
)

// file is one channel's file. Its methods are called by one goroutine at a
// time (see Box.with).
type file struct {
	name string
	path string
	busy chan struct{} // holds a token while somebody is at it
	index
}

// open opens the file and takes its lock; close gives both back. create makes
// it, and its folder, where they are missing; without it a missing file is
// fs.ErrNotExist.
func (b *Box) open(ctx context.Context, c *file, create bool) (*os.File, error) {
	for {
		f, err := b.openOnce(c, create)
		if err != nil {
			return nil, err
		}
		if err := lock(ctx, f); err != nil {
			return nil, errors.Join(err, f.Close())
		}
		// It may have been moved away while the lock was waited for.
		there, err := os.Stat(c.path)
		here, err2 := f.Stat()
		if err == nil && err2 == nil && os.SameFile(there, here) {
			if !here.Mode().IsRegular() {
				return nil, errors.Join(errors.New("it is not a regular file"), f.Close())
			}
			return f, nil
		}
		if err := f.Close(); err != nil {
			return nil, err
		}
		if err != nil && !(errors.Is(err, fs.ErrNotExist) && create) {
			return nil, err
		}
		if err := ctx.Err(); err != nil {
			return nil, err
		}
	}
}

func (b *Box) openOnce(c *file, create bool) (*os.File, error) {
	f, err := os.OpenFile(c.path, os.O_RDWR|os.O_APPEND, 0)
	if !errors.Is(err, fs.ErrNotExist) || !create {
		return f, err
	}
	if err := b.folder(); err != nil {
		return nil, err
	}
	f, err = os.OpenFile(c.path, os.O_RDWR|os.O_APPEND|os.O_CREATE, 0o600)
	if err != nil {
		return nil, err
	}
	// The name has to last as well as what stands under it.
	if err := b.syncFolder(b.dir); err != nil {
		return nil, errors.Join(err, f.Close())
	}
	return f, nil
}

// folder makes the folder and its parents where they are missing.
func (b *Box) folder() error {
	if _, err := os.Stat(b.dir); !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	if err := os.MkdirAll(b.dir, 0o700); err != nil {
		return err
	}
	return b.syncFolder(filepath.Dir(b.dir))
}

func (b *Box) syncFolder(path string) error {
	d, err := os.Open(path)
	if err != nil {
		return err
	}
	return errors.Join(b.sync(d), d.Close())
}

// lock waits for the lock of a file, or for the context. It asks again and
// again: a wait for flock in the kernel cannot be called off.
func lock(ctx context.Context, f *os.File) error {
	pause := time.Millisecond
	var timer *time.Timer
	for {
		if err := ctx.Err(); err != nil {
			return err
		}
		taken, err := tryLock(f)
		if err != nil {
			return fmt.Errorf("lock: %w", err)
		}
		if taken {
			return nil
		}
		if timer == nil {
			timer = time.NewTimer(pause)
			defer timer.Stop()
		} else {
			timer.Reset(pause)
		}
		select {
		case <-ctx.Done():
			return fmt.Errorf("another process holds the file: %w", ctx.Err())
		case <-timer.C:
		}
		pause = min(2*pause, 50*time.Millisecond)
	}
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
