package sqlite

import (
	"context"
	"database/sql"
	"embed"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/pressly/goose/v3"
	"modernc.org/sqlite" // registers the driver "sqlite"
	sqlite3 "modernc.org/sqlite/lib"
)

//go:embed migrations/*.sql
var migrations embed.FS

const (
	header        = "SQLite format 3\x00" // sqlite.org/fileformat2.html, 1.2
	applicationID = 0x6669726e            // see migrations/00001_store.sql
	versions      = "schema_version"      // goose's table
	readers       = 4
	busyWait      = 10 * time.Second
)

// manner is what an opening may do to a file.
type manner struct {
	make    bool // where there is none
	upgrade bool // one whose schema is older
	plain   bool // takes it as it is: of an older schema, or moved to another place; nothing is noted in it
}

// Open opens the store in a file, and makes file and folder where there is
// none. One of an older firn is copied and brought to this schema: see
// Upgraded. Its errors name the file and say what to do.
func Open(ctx context.Context, path string) (*Store, error) {
	return openAs(ctx, path, manner{make: true, upgrade: true})
}

// OpenOrMake is Open that leaves an older schema alone and refuses it.
func OpenOrMake(ctx context.Context, path string) (*Store, error) {
	return openAs(ctx, path, manner{make: true})
}

// OpenThere is OpenOrMake for a file that must be there already.
func OpenThere(ctx context.Context, path string) (*Store, error) {
	return openAs(ctx, path, manner{})
}

// ErrNone: there is no store where one must be.
var ErrNone = errors.New("there is no store")

// OldError refuses a schema that is older than this program's.
type OldError struct{ Has, Knows int64 }

// Error says what brings it up to date.
func (e OldError) Error() string {
	return fmt.Sprintf("this file was written by an older firn (schema %d, this one knows %d); it was left as it is: firn serve of this version copies it and brings it up to date when it starts", e.Has, e.Knows)
}

// Upgrade is what Open did to the store of an older firn.
type Upgrade struct {
	From, To int64
	Copy     string // the store as it was before
}

// Upgraded says whether Open brought the store up to date.
func (s *Store) Upgraded() (Upgrade, bool) { return s.upgraded, s.upgraded != Upgrade{} }

func openAs(ctx context.Context, path string, as manner) (*Store, error) {
	file, err := filepath.Abs(path)
	if err != nil {
		return nil, fmt.Errorf("store %s: %w", path, err)
	}
	s, err := open(ctx, file, as)
	if err != nil {
		return nil, fmt.Errorf("store %s: %w", file, err)
	}
	return s, nil
}

// place makes folder and file where they may be made.
func place(file string, as manner) error {
	if !as.make {
		_, err := os.Stat(file)
		if errors.Is(err, fs.ErrNotExist) {
			return fmt.Errorf("%w: firn serve makes it; where serve has run, give the --config and the --data that it has", ErrNone)
		}
		return err
	}
	if err := os.MkdirAll(filepath.Dir(file), 0o700); err != nil {
		return err
	}
	return create(file)
}

func open(ctx context.Context, file string, as manner) (_ *Store, err error) {
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	if err := place(file, as); err != nil {
		return nil, err
	}
	opening, unlock, err := lock(ctx, file)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, unlock()) }()
	known, err := knownVersion()
	if err != nil {
		return nil, err
	}
	has, err := check(ctx, file, known)
	if err != nil {
		return nil, err
	}
	switch {
	case has == 0 && !as.make:
		return nil, fmt.Errorf("%w: the file is empty, or its making was broken off", ErrNone)
	case has > 0 && has < known && !as.upgrade && !as.plain:
		return nil, OldError{has, known}
	}

	// FULL is what makes a commit survive a power cut: in the write-ahead
	// log NORMAL would not.
	const settings = "_pragma=busy_timeout(%d)&_pragma=journal_mode(WAL)&_pragma=synchronous(FULL)&_pragma=trusted_schema(0)"
	s := &Store{now: time.Now, schema: known, turns: turns{lead: make(chan struct{}, 1)}}
	defer func() {
		if err != nil {
			s.Close()
		}
	}()
	// Names of records are random, so that each is written to a page of its own in
	// the index: 16 MiB of pages hold the index of some 100 000.
	if s.write, err = sql.Open("sqlite", address(file, fmt.Sprintf(settings+"&_txlock=immediate&_pragma=cache_size(-16384)", busyWait.Milliseconds()))); err != nil {
		return nil, err
	}
	s.write.SetMaxOpenConns(1)
	if has < known && !as.plain {
		if err := s.upgrade(ctx, file, has, known); err != nil {
			return nil, err
		}
	}
	if s.read, err = sql.Open("sqlite", address(file, fmt.Sprintf(settings+"&_txlock=deferred&_pragma=query_only(1)", busyWait.Milliseconds()))); err != nil {
		return nil, err
	}
	s.read.SetMaxOpenConns(readers)
	s.read.SetMaxIdleConns(readers)
	if as.plain {
		s.schema = has
		return s, nil
	}
	return s, s.recognise(ctx, opening)
}

// upgrade brings the schema up to date, with a copy made before of what is
// there: there is no way back otherwise.
func (s *Store) upgrade(ctx context.Context, file string, has, known int64) error {
	if has > 0 {
		if err := s.refuseMoved(ctx, has); err != nil {
			return err
		}
		kept := fmt.Sprintf("%s.schema-%d.%s", file, has, s.now().UTC().Format("20060102T150405Z"))
		if err := s.backup(ctx, kept); err != nil {
			return fmt.Errorf("copy it to %s before its schema is brought from %d to %d: %w", kept, has, known, because(ctx, err))
		}
		s.upgraded = Upgrade{From: has, To: known, Copy: kept}
	}
	provider, err := provider(s.write)
	if err != nil {
		return err
	}
	if _, err := provider.Up(ctx); err != nil {
		return fmt.Errorf("bring the schema to version %d: %w", known, because(ctx, err))
	}
	return nil
}

// create makes a file that only its owner reads, if there is none.
func create(file string) error {
	f, err := os.OpenFile(file, os.O_RDWR|os.O_CREATE, 0o600)
	if err != nil {
		return err
	}
	return f.Close()
}

// address is a file with the driver's parameters.
func address(file, parameters string) string {
	u := url.URL{Path: filepath.ToSlash(file)}
	return "file:" + u.EscapedPath() + "?" + parameters
}

func provider(db *sql.DB) (*goose.Provider, error) {
	files, err := fs.Sub(migrations, "migrations")
	if err != nil {
		return nil, err
	}
	return goose.NewProvider(goose.DialectSQLite3, db, files,
		goose.WithTableName(versions), goose.WithDisableGlobalRegistry(true))
}

// knownVersion is the newest schema among the migrations.
func knownVersion() (int64, error) {
	names, err := fs.Glob(migrations, "migrations/*.sql")
	if err != nil {
		return 0, err
	}
	var known int64
	for _, n := range names {
		v, err := goose.NumericComponent(n)
		if err != nil {
			return 0, err
		}
		known = max(known, v)
	}
	return known, nil
}

// check refuses what must not be written to. It only reads, so that the file
// stays as it is. has is the file's schema, 0 where there is nothing in it.
func check(ctx context.Context, file string, known int64) (has int64, err error) {
	fresh, err := checkHeader(file)
	if fresh || err != nil {
		return 0, err
	}
	db, err := sql.Open("sqlite", address(file, fmt.Sprintf("mode=ro&_pragma=busy_timeout(%d)&_pragma=trusted_schema(0)", busyWait.Milliseconds())))
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
	if version > known {
		return 0, fmt.Errorf("this file was written by a newer firn (schema %d, this one knows %d); it was left as it is: run the newer firn, or give this one another file", version, known)
	}
	return version, nil
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
	if string(start[:len(header)]) != header {
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
	rows, err := db.QueryContext(ctx, "PRAGMA quick_check(3)")
	if err != nil {
		return unreadable(ctx, err)
	}
	defer rows.Close()
	var found []string
	for rows.Next() {
		var line string
		if err := rows.Scan(&line); err != nil {
			return unreadable(ctx, err)
		}
		found = append(found, line)
	}
	if err := rows.Err(); err != nil {
		return unreadable(ctx, err)
	}
	if len(found) != 1 || found[0] != "ok" {
		return damaged(strings.ReplaceAll(strings.Join(found, "; "), "\n", " "))
	}
	return nil
}

// damaged says what to do about a file that cannot be used.
func damaged(what string) error {
	return fmt.Errorf("this file is damaged or is no store of firn's: %s; it was left as it is: put a copy back in its place, or move it away (with its -wal) and firn starts a new one", what)
}

// unreadable is damaged where SQLite says so itself.
func unreadable(ctx context.Context, err error) error {
	err = because(ctx, err)
	if e, ok := errors.AsType[*sqlite.Error](err); ok {
		switch e.Code() & 0xff {
		case sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB, sqlite3.SQLITE_ERROR:
			return damaged(err.Error())
		}
	}
	return fmt.Errorf("check: %w", err)
}
