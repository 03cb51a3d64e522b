package sqlstore

import (
	"context"
	"crypto/rand"
	"database/sql"
	"encoding/binary"
	"errors"
	"fmt"
	"strconv"
	"strings"
)

// A store that was put back from a copy holds posts as unsent that were sent
// since, and lacks others. It is recognised by a number that changes with
// every Open and stands in two places: in the store, which is copied, and in
// the file of sqlite_lock.go, which is not. Backup gives its copies a mark of their
// own, for there the number may still be the same.
const (
	markNone = ""     // a new store
	markCopy = "copy" // a copy that was not opened yet

	markMoved = "moved " // and when: another place has all that was in it
)

// markedSince is since which schema there are marks.
const markedSince = 5

// refuseMoved refuses a store whose content is somewhere else: what is written
// to it would be missing there.
func (s *SQLite) refuseMoved(ctx context.Context) error {
	if s.schema < markedSince {
		return nil
	}
	var mark string
	if err := s.writer.QueryRowContext(ctx, "SELECT mark FROM instance").Scan(&mark); err != nil {
		return contextError(ctx, err)
	}
	if at, moved := strings.CutPrefix(mark, markMoved); moved {
		return fmt.Errorf("everything in it was moved to PostgreSQL at %s, and it was left as it is since: run firn with FIRN_DATABASE_URL set, or FIRN_DATABASE_URL_FILE; to go on with the file all the same, as with a copy of that time: firn restore, without a file", at)
	}
	return nil
}

// recognise sees whether the store is another one than was last opened here,
// and gives it a new mark. opening is the transaction of lockOpening.
func (s *SQLite) recognise(ctx context.Context, opening *sql.Tx) error {
	if err := s.refuseMoved(ctx); err != nil {
		return err
	}
	var mark, outside string
	if err := s.writer.QueryRowContext(ctx, "SELECT mark FROM instance").Scan(&mark); err != nil {
		return contextError(ctx, err)
	}
	if err := opening.QueryRowContext(ctx, "PRAGMA user_version").Scan(&outside); err != nil {
		return contextError(ctx, err)
	}
	if mark != markNone && mark != outside {
		if err := s.Restored(ctx); err != nil {
			return err
		}
		// Who serves beside a command that noted the restore goes on to.
		if by, _ := served(s.file); !by || s.serving != nil {
			if err := s.sql.unserved(ctx, s.writer); err != nil {
				return err
			}
		}
	}
	var b [4]byte
	rand.Read(b[:])
	next := strconv.Itoa(int(binary.BigEndian.Uint32(b[:])>>1) | 1) // never 0, which an empty file has
	// A kill between the two makes the next Open see a copy: that costs some
	// lookups, and nothing comes twice.
	if _, err := marked(ctx, s.writer, next); err != nil {
		return err
	}
	if _, err := opening.ExecContext(ctx, "PRAGMA user_version = "+next); err != nil {
		return contextError(ctx, err)
	}
	return nil
}

// PutBack notes in a file that it was put back from a copy, also in one whose
// content was moved to another place: whoever asks for that goes on with it.
func PutBack(ctx context.Context, path string) error {
	s, err := OpenSQLite(ctx, path, asItIs)
	if err != nil {
		return err
	}
	is, _ := served(path)
	return errors.Join(s.putBack(ctx, is), s.Close())
}

// putBack notes it; who serves from the file meanwhile goes on to.
func (s *SQLite) putBack(ctx context.Context, goesOn bool) error {
	if s.schema < markedSince {
		return nil // which is seen as a copy by nothing
	}
	return s.Store.write(ctx, "note the restore", func(ctx context.Context, t *tx) error {
		if _, err := exec(ctx, t, s.sql.restored()); err != nil {
			return err
		}
		if _, err := marked(ctx, t, markCopy); err != nil || goesOn {
			return err
		}
		return s.sql.unserved(ctx, t)
	})
}
