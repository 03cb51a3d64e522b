package sqlstore

import (
	"context"
	"database/sql"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"
)

const (
	sqliteHeader  = "SQLite format 3\x00" // sqlite.org/fileformat2.html, 1.2
	applicationID = 0x6669726e            // see migrations/sqlite/00001_store.sql
)

// check refuses what must not be written to. It only reads, so that the file
// stays as it is. has is the file's schema, 0 where there is nothing in it.
func check(ctx context.Context, file string, known int64, still string) (has int64, err error) {
	fresh, err := checkHeader(file)
	if fresh || err != nil {
		return 0, err
	}
	db, err := sql.Open("sqlite", address(file, fmt.Sprintf("%s&_pragma=busy_timeout(%d)&_pragma=trusted_schema(0)", still, busyWait.Milliseconds())))
	if err != nil {
		return 0, err
	}
	defer db.Close()
	db.SetMaxOpenConns(1)

	if err := checkPages(ctx, db); err != nil {
		return 0, err
	}
	var id, tables int64
	if err := db.QueryRowContext(ctx, "PRAGMA application_id").Scan(&id); err != nil {
		return 0, unreadable(ctx, err)
	}
	if err := db.QueryRowContext(ctx, "SELECT count(*) FROM sqlite_schema WHERE name NOT IN (?, 'sqlite_sequence')", versions).Scan(&tables); err != nil {
		return 0, unreadable(ctx, err)
	}
	if id != applicationID {
		if id == 0 && tables == 0 {
			return 0, nil // an Open that was ended early
		}
		return 0, errors.New("this is another program's SQLite file; it was left as it is: give firn a file of its own")
	}
	var version int64
	if err := db.QueryRowContext(ctx, "SELECT coalesce(max(version_id), 0) FROM "+versions).Scan(&version); err != nil {
		return 0, unreadable(ctx, err)
	}
	return version, refuseNewer("file", version, known)
}

// checkHeader looks at the first bytes and at the file's size; fresh says that
// there are no bytes.
func checkHeader(file string) (fresh bool, err error) {
	f, err := os.Open(file)
	if err != nil {
		return false, err
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return false, err
	}
	logged := false // changes that are not in the file yet
	if log, err := os.Stat(file + "-wal"); err == nil {
		logged = log.Size() > 0
	}
	if info.Size() == 0 {
		if logged {
			return false, damaged("it is empty, and there is a log of its changes beside it (" + filepath.Base(file) + "-wal)")
		}
		return true, nil
	}
	var start [18]byte
	if _, err := io.ReadFull(f, start[:]); err != nil && !errors.Is(err, io.ErrUnexpectedEOF) {
		return false, err
	}
	if string(start[:len(sqliteHeader)]) != sqliteHeader {
		return false, damaged("it does not begin as an SQLite file does")
	}
	// SQLite writes whole pages and reads what is missing of the last one as
	// zeros. With a log the page may be whole in there.
	size := int64(binary.BigEndian.Uint16(start[16:])) // 1 stands for 65536, of which 512 is a divisor too
	if size < 512 {
		size = 512
	}
	if info.Size()%size != 0 && !logged {
		return false, damaged("its end is missing")
	}
	return false, nil
}

// checkPages has SQLite go through the whole file.
func checkPages(ctx context.Context, db *sql.DB) error {
	found, err := list(ctx, db, func(row scanner, line *string) error { return row.Scan(line) }, "PRAGMA quick_check(3)")
	if err != nil {
		return unreadable(ctx, err)
	}
	if len(found) != 1 || found[0] != "ok" {
		return damaged(strings.ReplaceAll(strings.Join(found, "; "), "\n", " "))
	}
	return nil
}

// damaged is what is wrong with a file that cannot be used. It says what to do.
type damaged string

func (what damaged) Error() string {
	return fmt.Sprintf("this file is damaged or is no store of firn's: %s; it was left as it is: put a copy back in its place, or move it away (with its -wal) and firn starts a new one", string(what))
}

// unreadable is damaged where SQLite says so itself.
func unreadable(ctx context.Context, err error) error {
	err = contextError(ctx, err)
	if e, ok := errors.AsType[*sqlite.Error](err); ok {
		switch e.Code() & 0xff {
		case sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB, sqlite3.SQLITE_ERROR:
			return damaged(err.Error())
		}
	}
	return fmt.Errorf("check: %w", err)
}
