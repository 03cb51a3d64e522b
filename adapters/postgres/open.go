package postgres

import (
	"context"
	"database/sql"
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/stdlib"
	"github.com/pressly/goose/v3"
	"github.com/pressly/goose/v3/lock"
)

//go:embed migrations/*.sql
var migrations embed.FS

const (
	versions    = "schema_version" // goose's table
	connections = 8
)

// settings are made on every connection. The statements rely on seeing what
// was committed while they waited, and a process that stops in the middle of a
// transaction must not hold the others up.
const settings = "SET default_transaction_isolation = 'read committed'; SET idle_in_transaction_session_timeout = '1min'"

// manner is what an opening may do to a schema.
type manner struct {
	make    bool // where there is none
	upgrade bool // one that is older
}

// Open opens the store in a database, whose address is
// postgres://user@host:5432/database?sslmode=require or a list of key=value;
// what it does not say is taken from PGHOST, PGPASSFILE, PGSERVICE and the
// like. The schema is made or brought up to date. Its errors do not hold the
// password.
func Open(ctx context.Context, address string) (*Store, error) {
	return openAs(ctx, address, manner{make: true, upgrade: true})
}

// OpenOrMake is Open that leaves an older schema alone and refuses it.
func OpenOrMake(ctx context.Context, address string) (*Store, error) {
	return openAs(ctx, address, manner{make: true})
}

// OpenThere is OpenOrMake for a database that firn has worked in already.
func OpenThere(ctx context.Context, address string) (*Store, error) {
	return openAs(ctx, address, manner{})
}

// ErrNone: the database holds no store where one must be.
var ErrNone = errors.New("there is no store")

// OldError refuses a schema that is older than this program's.
type OldError struct{ Has, Knows int64 }

// Error says what brings it up to date.
func (e OldError) Error() string {
	return fmt.Sprintf("this database was written by an older firn (schema %d, this one knows %d); it was left as it is: make a copy by pg_dump, then firn serve of this version brings it up to date when it starts", e.Has, e.Knows)
}

func openAs(ctx context.Context, address string, as manner) (*Store, error) {
	cfg, err := pgx.ParseConfig(address)
	if err != nil {
		// The library's text may hold a part of the password where the
		// address is so wrong that it cannot be told.
		return nil, errors.New("store: the database's address cannot be read; write postgres://user@host:5432/database, with the password in the file that PGPASSFILE names, or service=NAME with PGSERVICEFILE; a password in the address needs %-escapes for @ : / ? # % (@ is %40)")
	}
	s, err := open(ctx, cfg, as)
	if err != nil {
		return nil, fmt.Errorf("store: %w", redact(because(ctx, err), cfg.Password))
	}
	return s, nil
}

func open(ctx context.Context, cfg *pgx.ConnConfig, as manner) (*Store, error) {
	if cfg.RuntimeParams["application_name"] == "" {
		cfg.RuntimeParams["application_name"] = "firn"
	}
	db := stdlib.OpenDB(*cfg, stdlib.OptionAfterConnect(func(ctx context.Context, c *pgx.Conn) error {
		_, err := c.PgConn().Exec(ctx, settings).ReadAll()
		return err
	}))
	db.SetMaxOpenConns(connections)
	db.SetMaxIdleConns(connections)
	db.SetConnMaxIdleTime(5 * time.Minute)
	if err := prepare(ctx, db, as); err != nil {
		db.Close()
		return nil, err
	}
	s := &Store{db: db, address: cfg}
	if err := s.recognise(ctx); err != nil {
		db.Close()
		return nil, err
	}
	return s, nil
}

// prepare checks the database and brings its schema up to date, where it may.
func prepare(ctx context.Context, db *sql.DB, as manner) error {
	var encoding string
	if err := db.QueryRowContext(ctx, "SELECT current_setting('server_encoding')").Scan(&encoding); err != nil {
		return err
	}
	if encoding != "UTF8" {
		return fmt.Errorf("the database is in %s and cannot keep every text; make one with CREATE DATABASE firn ENCODING 'UTF8' TEMPLATE template0", encoding)
	}
	known, err := knownVersion()
	if err != nil {
		return err
	}
	has, err := version(ctx, db)
	switch {
	case err != nil || has >= known:
		return cmpNewer(has, known, err)
	case has == 0 && !as.make:
		return fmt.Errorf("%w: firn serve makes it in this database; where serve has run, give the address that it has", ErrNone)
	case has > 0 && !as.upgrade:
		return OldError{has, known}
	}
	// One replica at a time; the others wait and find it done.
	locker, err := lock.NewPostgresSessionLocker(lock.WithLockTimeout(1, 120), lock.WithUnlockTimeout(1, 10))
	if err != nil {
		return err
	}
	files, err := fs.Sub(migrations, "migrations")
	if err != nil {
		return err
	}
	provider, err := goose.NewProvider(goose.DialectPostgres, db, files,
		goose.WithTableName(versions), goose.WithSessionLocker(locker), goose.WithDisableGlobalRegistry(true))
	if err != nil {
		return err
	}
	if _, err := provider.Up(ctx); err != nil {
		return fmt.Errorf("bring the schema to version %d: %w", known, err)
	}
	has, err = version(ctx, db)
	return cmpNewer(has, known, err)
}

// cmpNewer refuses a schema that this binary does not know.
func cmpNewer(has, known int64, err error) error {
	if err == nil && has > known {
		return fmt.Errorf("this database was written by a newer firn (schema %d, this one knows %d); it was left as it is: run the newer firn, or give this one another database", has, known)
	}
	return err
}

// version is the database's schema; 0 where there is none.
func version(ctx context.Context, db *sql.DB) (int64, error) {
	var there bool
	if err := db.QueryRowContext(ctx, "SELECT to_regclass($1) IS NOT NULL", versions).Scan(&there); err != nil || !there {
		return 0, err
	}
	var has int64
	err := db.QueryRowContext(ctx, "SELECT coalesce(max(version_id), 0) FROM "+versions).Scan(&has)
	return has, err
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

// redacted is an error whose text had the password in it.
type redacted struct {
	text string
	err  error
}

// Error is the text without the password.
func (r redacted) Error() string { return r.text }

// Is sees the error below, but nobody gets to print it.
func (r redacted) Is(target error) bool { return errors.Is(r.err, target) }

// redact takes the password out of an error's text. No library is known to
// put it there; this is for the day when one does.
func redact(err error, password string) error {
	if err == nil || password == "" {
		return err
	}
	text := err.Error()
	for _, p := range []string{password, url.QueryEscape(password), url.PathEscape(password)} {
		text = strings.ReplaceAll(text, p, "[password]")
	}
	if text == err.Error() {
		return err
	}
	return redacted{text, err}
}
