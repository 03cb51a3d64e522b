package main

import (
	"bufio"
	"context"
	"database/sql/driver"
	"fmt"
	"io"
	"os"
	"strings"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	lite "modernc.org/sqlite"

	"firn/adapters/sqlstore"
	"firn/bot/app"
	"firn/bot/chat"
	"firn/bot/outbox"
	"firn/bot/watch"
)

// point is a window in which a deed is done and not written down, or half of
// it is.
type point string

// The points at which the kill tests have a process die.
const (
	inOpen       point = "inside open" // the first of the posts is written, and not committed
	afterOpen    point = "after open"
	afterClaim   point = "after claim"
	afterSend    point = "after send, before the mark"
	afterFind    point = "after find"
	afterMissing point = "after find that found nothing"
	afterTake    point = "after a message was taken" // PostgreSQL: from the other replicas
	beforeDone   point = "before a message is done"  // it is answered

	anyMoment point = "at any moment" // no mine: whoever kills it says when
)

// mine ends the process that it is laid in, without a word, when it comes to
// the point that a line on stdin names. It exists in children of this test's
// binary only: nothing in firn itself can be told to die.
type mine struct {
	at       atomic.Pointer[point]
	database string // the address; empty: SQLite
}

// lay lays the mine of a process whose stdin is in.
func lay(in io.Reader, database string) *mine {
	m := &mine{database: database}
	if m.database == "" {
		m.trigger()
	}
	go func() {
		for lines := bufio.NewScanner(in); lines.Scan(); {
			p := point(lines.Text())
			if p == inOpen && m.database != "" {
				go m.watchOpen()
			}
			m.at.Store(&p)
		}
	}()
	return m
}

// pass ends the process where this is its point.
func (m *mine) pass(here point) {
	if at := m.at.Load(); at != nil && *at == here {
		die()
	}
}

func die() {
	if err := syscall.Kill(os.Getpid(), syscall.SIGKILL); err != nil {
		panic(err)
	}
	select {}
}

func (m *mine) store(s store) app.Store {
	switch s := s.(type) {
	case *sqlstore.SQLite:
		return minedSQLite{s, m}
	case *sqlstore.Postgres:
		return minedPostgres{s, m}
	}
	panic(fmt.Sprintf("no mine for %T", s))
}

func (m *mine) claimed(c []outbox.Claim, err error) ([]outbox.Claim, error) {
	if len(c) > 0 {
		m.pass(afterClaim)
	}
	return c, err
}

func (m *mine) opened(fresh bool, err error) (bool, error) {
	if fresh {
		m.pass(afterOpen)
	}
	return fresh, err
}

// minedSQLite and minedPostgres stay what the wiring asks a store whether it is.
type minedSQLite struct {
	*sqlstore.SQLite
	m *mine
}

func (s minedSQLite) Claim(ctx context.Context, now time.Time, lease time.Duration, limit int) ([]outbox.Claim, error) {
	return s.m.claimed(s.Store.Claim(ctx, now, lease, limit))
}

func (s minedSQLite) Open(ctx context.Context, a watch.Alert, posts []outbox.Item) (bool, error) {
	return s.m.opened(s.Store.Open(ctx, a, posts))
}

type minedPostgres struct {
	*sqlstore.Postgres
	m *mine
}

func (s minedPostgres) Claim(ctx context.Context, now time.Time, lease time.Duration, limit int) ([]outbox.Claim, error) {
	return s.m.claimed(s.Store.Claim(ctx, now, lease, limit))
}

func (s minedPostgres) Open(ctx context.Context, a watch.Alert, posts []outbox.Item) (bool, error) {
	return s.m.opened(s.Store.Open(ctx, a, posts))
}

func (s minedPostgres) Lease(ctx context.Context, name, holder string, d time.Duration) (bool, error) {
	event := strings.HasPrefix(name, "event/")
	if event && d == chat.EventLease {
		s.m.pass(beforeDone)
	}
	held, err := s.Store.Lease(ctx, name, holder, d)
	if event && held && d != chat.EventLease {
		s.m.pass(afterTake)
	}
	return held, err
}

type minedSender struct {
	outbox.Sender
	m *mine
}

// minedThreaded is one that posts into threads.
type minedThreaded struct {
	minedSender
	threads outbox.Threaded
}

// sender is a Sender that stays what the outbox asks it whether it is.
func (m *mine) sender(on outbox.Sender) outbox.Sender {
	if t, ok := on.(outbox.Threaded); ok {
		return minedThreaded{minedSender{on, m}, t}
	}
	return minedSender{on, m}
}

func (s minedThreaded) SendUnder(ctx context.Context, p outbox.Post, root string) (string, error) {
	return s.sent(s.threads.SendUnder(ctx, p, root))
}

func (s minedThreaded) FindUnder(ctx context.Context, root, key string) (string, bool, error) {
	return s.looked(s.threads.FindUnder(ctx, root, key))
}

func (s minedSender) Send(ctx context.Context, p outbox.Post) (string, error) {
	return s.sent(s.Sender.Send(ctx, p))
}

func (s minedSender) sent(ref string, err error) (string, error) {
	if err == nil {
		s.m.pass(afterSend)
	}
	return ref, err
}

func (s minedSender) Find(ctx context.Context, channel, key string) (string, bool, error) {
	return s.looked(s.Sender.Find(ctx, channel, key))
}

func (s minedSender) looked(ref string, found bool, err error) (string, bool, error) {
	switch {
	case found:
		s.m.pass(afterFind)
	case err == nil:
		s.m.pass(afterMissing)
	}
	return ref, found, err
}

// trigger has SQLite come to inOpen within the transaction: a trigger of this
// process alone, on the table that the test has made before.
func (m *mine) trigger() {
	lite.MustRegisterScalarFunction("firn_test_in_open", 0, func(*lite.FunctionContext, []driver.Value) (driver.Value, error) {
		m.pass(inOpen)
		return int64(0), nil
	})
	lite.RegisterConnectionHook(func(c lite.ExecQuerierContext, _ string) error {
		// A connection that only reads has no trigger.
		_, _ = c.ExecContext(context.Background(), `CREATE TEMP TRIGGER firn_test_in_open AFTER INSERT ON main.outbox
			WHEN NEW.key LIKE 'alert/%' OR NEW.key LIKE 'digest/%' BEGIN SELECT firn_test_in_open(); END`, nil)
		return nil
	})
}

// minefield prepares a database: an insert that has come to inOpen in a process
// that is to die there waits, so that the process can see it.
func minefield(t *testing.T, url string) {
	t.Helper()
	s, err := sqlstore.OpenPostgres(t.Context(), url, sqlstore.MayCreate)
	if err != nil {
		t.Fatal(err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	db, err := pgx.Connect(t.Context(), url)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close(context.WithoutCancel(t.Context()))
	_, err = db.Exec(t.Context(), `
		CREATE SCHEMA firn_test;
		CREATE TABLE firn_test.dies (process text);
		CREATE FUNCTION firn_test.in_open() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
			IF (NEW.key LIKE 'alert/%' OR NEW.key LIKE 'digest/%') AND EXISTS (SELECT FROM firn_test.dies WHERE process = current_setting('application_name')) THEN
				PERFORM pg_sleep(60);
			END IF;
			RETURN NEW;
		END $$;
		CREATE TRIGGER firn_test_in_open AFTER INSERT ON outbox FOR EACH ROW EXECUTE FUNCTION firn_test.in_open();`)
	if err != nil {
		t.Fatal(err)
	}
}

// minedEnv is what a child needs besides: its connections have a name of their
// own, and the server soon sees that their process is gone.
func minedEnv(n int) []string {
	return []string{fmt.Sprintf("PGAPPNAME=firn %d", n), "PGOPTIONS=-c client_connection_check_interval=50"}
}

// watchOpen waits until PostgreSQL has come to inOpen for this process. Where
// the database is down just now the mine is not laid.
func (m *mine) watchOpen() {
	ctx := context.Background()
	db, err := pgx.Connect(ctx, m.database)
	if err == nil {
		_, err = db.Exec(ctx, "INSERT INTO firn_test.dies VALUES (current_setting('application_name'))")
	}
	for asleep := false; err == nil; time.Sleep(2 * time.Millisecond) {
		err = db.QueryRow(ctx, `SELECT EXISTS (SELECT FROM pg_stat_activity
			WHERE datname = current_database() AND application_name = current_setting('application_name') AND wait_event = 'PgSleep')`).Scan(&asleep)
		if asleep {
			die()
		}
	}
	fmt.Fprintln(os.Stderr, "no mine:", err)
}
