package sqlstore

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"sync"
	"time"

	"github.com/gofrs/flock"
	"github.com/pressly/goose/v3"
	_ "modernc.org/sqlite" // the driver "sqlite"

	"firn/bot/pagestate"
)

const (
	readers  = 4
	busyWait = 10 * time.Second
)

var _ pagestate.Feed = (*SQLite)(nil)

// SQLite is a store in one file.
type SQLite struct {
	Store
	writer   *sql.DB // one connection
	commits  groupCommit
	tellers  pagestate.Tellers // who follows what this process changes
	schema   int64             // the file's
	upgraded Upgrade
	serving  *flock.Flock // held while this process serves
	alone    sync.Map     // the names of Alone that are taken
	file     string       // empty: opened as it is
	opened   fs.FileInfo  // of the file as it was opened; nil: it is only read
	made     bool         // by this opening, to serve
}

// sqliteWords: times are microseconds since 1970.
var sqliteWords = words{
	now:      "CAST(unixepoch('subsec') * 1000000 AS INTEGER)",
	interval: func(parameter string) string { return parameter },
	schema:   "SELECT CAST(strftime('%s', min(tstamp)) AS INTEGER) * 1000000 FROM " + versions,
	size:     "SELECT page_count * page_size FROM pragma_page_count(), pragma_page_size()",
	digested: func(t time.Time) any { return instant(t).UnixMicro() },
}

// Upgrade is what opening did to the store of an older firn.
type Upgrade struct {
	From, To int64
	Copy     string // the store as it was before
}

// Upgraded says whether opening brought the store up to date.
func (s *SQLite) Upgraded() (Upgrade, bool) { return s.upgraded, s.upgraded != Upgrade{} }

// OpenSQLite opens the store in a file, and makes file and folder where it may
// and there is none. To serve, the file of an older firn is copied and brought
// to this schema (see Upgraded), and a second process that opens it to serve is
// refused. Its errors name the file and say what to do.
func OpenSQLite(ctx context.Context, path string, how Opening) (*SQLite, error) {
	file, err := filepath.Abs(path)
	if err != nil {
		return nil, fmt.Errorf("store %s: %w", path, err)
	}
	s, err := openSQLite(ctx, file, how)
	if err != nil {
		return nil, fmt.Errorf("store %s: %w", file, err)
	}
	return s, nil
}

func openSQLite(ctx context.Context, file string, how Opening) (_ *SQLite, err error) {
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	if err := makePlace(file, how); err != nil {
		return nil, err
	}
	if how == ToRead {
		return readSQLite(ctx, file)
	}
	s := &SQLite{}
	defer func() {
		if err != nil {
			s.Close()
		}
	}()
	if how == ToServe {
		if s.serving, err = serveAlone(file); err != nil {
			return nil, err
		}
	}
	if how.creates() { // by who may, so that nothing stands in the way of a restore
		_, err := os.Stat(file)
		s.made = how == ToServe && errors.Is(err, fs.ErrNotExist)
		if err := create(file); err != nil {
			return nil, err
		}
	}
	opening, unlock, err := lockOpening(ctx, file)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, unlock()) }()
	known, err := known(goose.DialectSQLite3)
	if err != nil {
		return nil, err
	}
	has, err := check(ctx, file, known, readOnly)
	if err != nil {
		return nil, err
	}
	switch {
	case has == 0 && !how.creates():
		return nil, fmt.Errorf("%w: the file is empty, or its making was broken off", ErrNone)
	case has > 0 && has < known && how != ToServe && how != asItIs:
		return nil, oldFile(has, known)
	}
	if err := s.connect(file); err != nil {
		return nil, err
	}
	s.schema = has
	if how == asItIs {
		return s, nil
	}
	if err := s.upgrade(ctx, file, known); err != nil {
		return nil, err
	}
	if s.opened, err = os.Stat(file); err != nil {
		return nil, err
	}
	s.file = file
	if err := s.recognise(ctx, opening); err != nil || how != ToServe {
		return s, err
	}
	return s, s.takeOver(ctx)
}

func oldFile(has, known int64) OldError {
	return OldError{has, known, "file", "firn serve of this version copies it and brings it up to date when it starts"}
}

// makePlace makes the folder where it may be made, and looks for the file.
func makePlace(file string, how Opening) error {
	_, err := os.Stat(file)
	none := errors.Is(err, fs.ErrNotExist)
	if by, _ := served(file); none && by && how != ToServe { // which is refused by that one's lock
		return fmt.Errorf("%w any more: it was moved away, and a firn serve still writes to it there: stop that one, and put it or a copy back", ErrNone)
	}
	switch {
	case how.creates():
		return os.MkdirAll(filepath.Dir(file), 0o700)
	case none:
		return fmt.Errorf("%w: firn serve makes it; where serve has run, give the --config and the --data that it has", ErrNone)
	}
	return err
}

// create makes a file that only its owner reads, if there is none. The owner is
// its folder's: whoever restores or looks is often root, and serve is not.
func create(file string) error {
	f, err := os.OpenFile(file, os.O_RDWR|os.O_CREATE|os.O_EXCL, 0o600)
	if errors.Is(err, fs.ErrExist) {
		if f, err = os.OpenFile(file, os.O_RDWR|os.O_CREATE, 0o600); err != nil {
			return err
		}
		return f.Close()
	}
	if err != nil {
		return err
	}
	return errors.Join(ToFolderOwner(file), f.Close())
}

// ToFolderOwner gives a file or folder to whom the folder that it is in belongs to,
// where this process is root.
func ToFolderOwner(path string) error {
	uid, gid, other, err := folderOwner(path)
	if err != nil || !other {
		return err
	}
	return os.Lchown(path, uid, gid)
}

// folderOwner is whose a file's folder is; other: this process is root, and may
// give the file to them.
func folderOwner(file string) (uid, gid int, other bool, err error) {
	folder, err := os.Stat(filepath.Dir(file))
	if err != nil {
		return 0, 0, false, err
	}
	uid, gid, known := ownerOf(folder)
	return uid, gid, known && os.Geteuid() == 0, nil
}

// connect opens the connections, which are made when they are first used.
func (s *SQLite) connect(file string) (err error) {
	// rw makes no file: one that was moved away stays away, and a copy can be put in
	// its place. FULL is what makes a commit survive a power cut: in the write-ahead
	// log NORMAL would not.
	settings := fmt.Sprintf("mode=rw&_pragma=busy_timeout(%d)&_pragma=journal_mode(WAL)&_pragma=synchronous(FULL)&_pragma=trusted_schema(0)", busyWait.Milliseconds())
	// Names of records are random, so that each is written to a page of its own in
	// the index: 16 MiB of pages hold the index of some 100 000.
	if s.writer, err = sql.Open("sqlite", address(file, settings+"&_txlock=immediate&_pragma=cache_size(-16384)")); err != nil {
		return err
	}
	s.writer.SetMaxOpenConns(1)
	if s.reader, err = sql.Open("sqlite", address(file, settings+"&_txlock=deferred&_pragma=query_only(1)")); err != nil {
		return err
	}
	s.reader.SetMaxOpenConns(readers)
	s.reader.SetMaxIdleConns(readers)
	s.dialect, s.sql, s.commits = s, sqliteWords, newGroupCommit(s.writer)
	return nil
}

// address is a file with the driver's parameters.
func address(file, parameters string) string {
	u := url.URL{Path: filepath.ToSlash(file)}
	return "file:" + u.EscapedPath() + "?_time_integer_format=unix_micro&" + parameters
}

// upgrade brings the schema up to date, with a copy made before of what is
// there: there is no way back otherwise.
func (s *SQLite) upgrade(ctx context.Context, file string, known int64) error {
	if s.schema == known {
		return nil
	}
	if has := s.schema; has > 0 {
		if err := s.refuseMoved(ctx); err != nil {
			return err
		}
		kept := fmt.Sprintf("%s.schema-%d.%s", file, has, time.Now().UTC().Format("20060102T150405Z"))
		if err := s.backup(ctx, kept); err != nil {
			return fmt.Errorf("copy it to %s before its schema is brought from %d to %d: %w", kept, has, known, contextError(ctx, err))
		}
		s.upgraded = Upgrade{From: has, To: known, Copy: kept}
	}
	s.schema = known
	return migrate(ctx, goose.DialectSQLite3, s.writer, known)
}

// Close ends the use of the file.
func (s *SQLite) Close() error {
	var errs []error
	for _, db := range []*sql.DB{s.reader, s.writer} { // the last one moves the log into the file
		if db != nil {
			errs = append(errs, db.Close())
		}
	}
	if s.serving != nil {
		errs = append(errs, s.serving.Close())
	}
	return errors.Join(errs...)
}

// Unmake ends the use of a file by who will not serve after all. One that was made
// for that goes again: else the next who looks finds a store in which nothing is.
func (s *SQLite) Unmake() error {
	if !s.made || s.file == "" {
		return s.Close()
	}
	serving := s.serving
	s.serving = nil // held until all is gone
	errs := []error{s.Close()}
	for _, end := range []string{"", "-wal", "-shm", "-opening", "-serving"} {
		if err := os.Remove(s.file + end); !errors.Is(err, fs.ErrNotExist) {
			errs = append(errs, err)
		}
	}
	return errors.Join(append(errs, serving.Close())...)
}

func (s *SQLite) write(ctx context.Context, do func(context.Context, *tx) error) error {
	t := &tx{}
	err := s.commits.commitWith(ctx, func(ctx context.Context, in conn) error {
		t.conn = in
		return do(ctx, t)
	})
	if err == nil {
		s.tellers.Tell(t.changes...)
	}
	return err
}

func (s *SQLite) single(ctx context.Context, do func(context.Context, conn) error) error {
	return s.commits.commitWith(ctx, do)
}

// replaceProcedures lays aside what comes first: it may be much, and while it
// is read other processes must be able to write.
func (s *SQLite) replaceProcedures(ctx context.Context, clear func(context.Context, conn) error, fill func(on conn, table string) error, settle func(context.Context, conn) error) (err error) {
	on, err := s.writer.Conn(ctx)
	if err != nil {
		return err
	}
	defer on.Close()
	if _, err := on.ExecContext(ctx, "CREATE TEMP TABLE incoming (dataset TEXT, ident TEXT, code TEXT, cycle TEXT, body TEXT, PRIMARY KEY (dataset, ident, code))"); err != nil {
		return err
	}
	defer func() {
		_, gone := on.ExecContext(context.WithoutCancel(ctx), "DROP TABLE temp.incoming")
		err = errors.Join(err, gone)
	}()
	if err := fill(on, "temp.incoming"); err != nil {
		return err
	}
	t, err := on.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer t.Rollback() // after a commit it does nothing
	if err := clear(ctx, t); err != nil {
		return err
	}
	if _, err := exec(ctx, t, `
		INSERT INTO procedure (dataset, ident, code, cycle, body)
		SELECT dataset, ident, code, cycle, body FROM temp.incoming WHERE true
		ON CONFLICT (dataset, ident, code) DO UPDATE SET cycle = excluded.cycle, body = excluded.body`); err != nil {
		return err
	}
	if err := settle(ctx, t); err != nil {
		return err
	}
	return t.Commit()
}

// pollInterval is how often it is looked for what other processes have written.
const pollInterval = 500 * time.Millisecond

// Follow tells what this process changes as it happens, and that another one
// has changed something soon after: SQLite counts what others write, and does
// not say what it was.
func (s *SQLite) Follow(ctx context.Context, tell func(pagestate.Change)) error {
	defer s.tellers.Add(tell)()
	t := time.NewTicker(pollInterval)
	defer t.Stop()
	for last := int64(-1); ; {
		var is int64
		// On the connection that writes, so that its own do not count.
		if err := s.writer.QueryRowContext(ctx, "PRAGMA data_version").Scan(&is); err != nil {
			return wrap(ctx, "follow changes", err)
		}
		if is != last {
			last = is
			tell(pagestate.Change{Kind: pagestate.All})
		}
		select {
		case <-t.C:
		case <-ctx.Done():
			return ctx.Err()
		}
	}
}
