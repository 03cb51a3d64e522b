package sqlstore

import (
	"cmp"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"net/url"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/stdlib"
	"github.com/pressly/goose/v3"
	"github.com/pressly/goose/v3/lock"

	"firn/bot/pagestate"
)

const connections = 8

// settings are made on every connection. The statements rely on seeing what
// was committed while they waited, and a process that stops in the middle of a
// transaction must not hold the others up.
const settings = "SET default_transaction_isolation = 'read committed'; SET idle_in_transaction_session_timeout = '1min'"

var _ pagestate.Feed = (*Postgres)(nil)

// Postgres is a store in a PostgreSQL database.
type Postgres struct {
	Store
	address *pgx.ConnConfig // for a connection beside the pool's
}

// historyLock is the number of the lock on the history's end ("firn" in
// ASCII, and 1).
const historyLock = 0x6669726e_00000001

var postgresWords = words{
	now:         "clock_timestamp()",
	interval:    func(parameter string) string { return parameter + "::bigint * interval '1 microsecond'" },
	schema:      "SELECT min(tstamp)::timestamptz FROM " + versions,
	size:        "SELECT pg_database_size(current_database())",
	forUpdate:   " FOR UPDATE",
	skipLocked:  " FOR UPDATE SKIP LOCKED",
	lockHistory: fmt.Sprintf("SELECT pg_advisory_xact_lock(%d)", int64(historyLock)),
	lockLinks:   "LOCK TABLE page_link IN SHARE ROW EXCLUSIVE MODE",
	digested:    func(t time.Time) any { return instant(t) },
}

// OpenPostgres opens the store in a database, whose address is
// postgres://user@host:5432/database?sslmode=require or a list of key=value;
// what it does not say is taken from PGHOST, PGPASSFILE, PGSERVICE and the
// like. The schema is made or brought up to date where it may be. Its errors do
// not hold the password.
func OpenPostgres(ctx context.Context, address string, how Opening) (*Postgres, error) {
	cfg, err := pgx.ParseConfig(address)
	if err != nil {
		if service, one := strings.CutPrefix(strings.TrimSpace(address), "service="); one && !strings.ContainsAny(service, " =") {
			return nil, fmt.Errorf("store: what the service %s says cannot be read: it needs a section [%[1]s] in ~/.pg_service.conf, or in the file that PGSERVICEFILE names", service)
		}
		// The library's text may hold a part of the password where the
		// address is so wrong that it cannot be told.
		return nil, errors.New("store: the database's address cannot be read; write postgres://user@host:5432/database, with the password in the file that PGPASSFILE names, or service=NAME with PGSERVICEFILE; a password in the address needs %-escapes for @ : / ? # % (@ is %40)")
	}
	s, err := openPostgres(ctx, cfg, how)
	if err != nil {
		return nil, fmt.Errorf("store %s: %w", databaseOf(cfg), redact(contextError(ctx, err), cfg.Password))
	}
	return s, nil
}

func openPostgres(ctx context.Context, cfg *pgx.ConnConfig, how Opening) (*Postgres, error) {
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
	s := &Postgres{Store: Store{reader: db, sql: postgresWords}, address: cfg}
	s.dialect = s
	err := prepare(ctx, db, how)
	if err == nil && how != ToRead {
		err = s.recognise(ctx)
	}
	if err != nil {
		db.Close()
		return nil, err
	}
	return s, nil
}

// prepare checks the database and brings its schema up to date, where it may.
func prepare(ctx context.Context, db *sql.DB, how Opening) error {
	var encoding string
	if err := db.QueryRowContext(ctx, "SELECT current_setting('server_encoding')").Scan(&encoding); err != nil {
		return err
	}
	if encoding != "UTF8" {
		return fmt.Errorf("the database is in %s and cannot keep every text; make one with CREATE DATABASE firn ENCODING 'UTF8' TEMPLATE template0", encoding)
	}
	known, err := known(goose.DialectPostgres)
	if err != nil {
		return err
	}
	// One replica at a time; the others wait and find it done.
	locker, err := lock.NewPostgresSessionLocker(lock.WithLockTimeout(1, 120), lock.WithUnlockTimeout(1, 10))
	if err != nil {
		return err
	}
	has, err := version(ctx, db)
	if err == nil && has > 0 && has < known && how != ToServe {
		has, err = versionThen(ctx, db, locker) // it may be in the making
	}
	switch {
	case err != nil || has >= known:
		return cmp.Or(err, refuseNewer("database", has, known))
	case has == 0 && !how.creates():
		return fmt.Errorf("%w: firn serve makes it in this database; where serve has run, give the address that it has", ErrNone)
	case has > 0 && how != ToServe:
		return OldError{has, known, "database", "make a copy by pg_dump, then firn serve of this version brings it up to date when it starts"}
	}
	if err := migrate(ctx, goose.DialectPostgres, db, known, goose.WithSessionLocker(locker)); err != nil {
		return err
	}
	has, err = version(ctx, db)
	return cmp.Or(err, refuseNewer("database", has, known))
}

// versionThen is the schema once nobody changes it any more.
func versionThen(ctx context.Context, db *sql.DB, l lock.SessionLocker) (int64, error) {
	c, err := db.Conn(ctx)
	if err != nil {
		return 0, err
	}
	defer c.Close()
	if err := l.SessionLock(ctx, c); err != nil {
		return 0, err
	}
	has, err := version(ctx, c)
	return has, errors.Join(err, l.SessionUnlock(ctx, c))
}

// version is the database's schema; 0 where there is none.
func version(ctx context.Context, db conn) (int64, error) {
	var there bool
	if err := db.QueryRowContext(ctx, "SELECT to_regclass($1) IS NOT NULL", versions).Scan(&there); err != nil || !there {
		return 0, err
	}
	var has int64
	err := db.QueryRowContext(ctx, "SELECT coalesce(max(version_id), 0) FROM "+versions).Scan(&has)
	return has, err
}

// Close ends the use of the database.
func (s *Postgres) Close() error { return s.reader.Close() }

func (s *Postgres) write(ctx context.Context, do func(context.Context, *tx) error) error {
	in, err := s.reader.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer in.Rollback() // after a commit it does nothing
	t := &tx{conn: in}
	if err := do(ctx, t); err != nil {
		return err
	}
	if err := notify(ctx, t); err != nil {
		return err
	}
	return in.Commit()
}

func (s *Postgres) single(ctx context.Context, do func(context.Context, conn) error) error {
	return do(ctx, s.reader)
}

func (s *Postgres) replaceProcedures(ctx context.Context, clear func(context.Context, conn) error, fill func(on conn, table string) error, settle func(context.Context, conn) error) error {
	return s.write(ctx, func(ctx context.Context, t *tx) error {
		// Two imports at once: the second sees what the first has left.
		if err := t.lock(ctx, "LOCK TABLE procedure IN SHARE ROW EXCLUSIVE MODE"); err != nil {
			return err
		}
		if err := clear(ctx, t); err != nil {
			return err
		}
		if err := fill(t, "procedure"); err != nil {
			return err
		}
		return settle(ctx, t)
	})
}

// Now is the database's time, by which leases run.
func (s *Postgres) Now(ctx context.Context) (t time.Time, err error) {
	err = s.reader.QueryRowContext(ctx, "SELECT clock_timestamp()").Scan(scanTime{&t})
	return t, wrap(ctx, "clock", err)
}

// identity is which copy of the store this is. The oid of a table is another
// one after pg_restore, the cluster's identifier after a move to another
// server, the timeline after a recovery to a point in time or the promotion
// of a standby, which may lack the last commits.
const identity = `
	SELECT concat_ws('/',
		(SELECT system_identifier FROM pg_control_system()),
		(SELECT timeline_id FROM pg_control_checkpoint()),
		(SELECT oid FROM pg_database WHERE datname = current_database()),
		'outbox'::regclass::oid::bigint)`

// recognise notes a restore when the store is another one than was last
// opened. Of replicas that start together one sees it.
func (s *Postgres) recognise(ctx context.Context) error {
	var now string
	if err := s.reader.QueryRowContext(ctx, identity).Scan(&now); err != nil {
		return fmt.Errorf("identity: %w", err)
	}
	return s.Store.write(ctx, "note the restore", func(ctx context.Context, t *tx) error {
		if _, err := exec(ctx, t, s.sql.restored()+" WHERE mark NOT IN ('', $1)", now); err != nil {
			return err
		}
		if changed, err := marked(ctx, t, now); err != nil || !changed {
			return err
		}
		return s.sql.unserved(ctx, t)
	})
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
