package postgres_test

import (
	"context"
	"database/sql"
	"errors"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	_ "github.com/jackc/pgx/v5/stdlib" // the driver "pgx"
	"github.com/pressly/goose/v3"

	"firn/adapters/postgres"
	"firn/adapters/testkit/pgtest"
	"firn/bot/outbox"
	"firn/bot/testkit/storetest"
	"firn/bot/watch"
)

var noon = time.Date(2026, 1, 15, 12, 0, 0, 0, time.UTC)

// TestOpenAtOnce has replicas open an empty database together.
func TestOpenAtOnce(t *testing.T) {
	address := pgtest.Shared(t).Database(t)
	var wg sync.WaitGroup
	for range 4 {
		wg.Go(func() {
			s, err := postgres.Open(t.Context(), address)
			if err != nil {
				t.Error(err)
				return
			}
			if err := s.Close(); err != nil {
				t.Error(err)
			}
		})
	}
	wg.Wait()
	mustOpen(t, address)
	var applied int
	if err := plain(t, address).QueryRow(t.Context(), "SELECT count(*) FROM schema_version WHERE version_id = 1").Scan(&applied); err != nil || applied != 1 {
		t.Errorf("the schema was applied %d times, %v, want once", applied, err)
	}
}

func TestOpenRefuses(t *testing.T) {
	refused := func(t *testing.T, address, want string) {
		t.Helper()
		s, err := postgres.Open(t.Context(), address)
		if err == nil {
			s.Close()
			t.Fatal("Open takes it")
		}
		t.Log(err)
		storetest.NoSecret(t, err, pgtest.Shared(t).Password())
		if !strings.Contains(err.Error(), want) {
			t.Errorf("Open: %v, want %q", err, want)
		}
	}
	t.Run("a newer schema", func(t *testing.T) {
		address := pgtest.Shared(t).Database(t)
		mustOpen(t, address)
		c := plain(t, address)
		var before int
		if err := c.QueryRow(t.Context(), "SELECT count(*) FROM schema_version").Scan(&before); err != nil {
			t.Fatal(err)
		}
		if _, err := c.Exec(t.Context(), "INSERT INTO schema_version (version_id, is_applied) VALUES (99, true)"); err != nil {
			t.Fatal(err)
		}
		refused(t, address, "this database was written by a newer firn (schema 99, this one knows ")
		var rows int
		if err := c.QueryRow(t.Context(), "SELECT count(*) FROM schema_version").Scan(&rows); err != nil || rows != before+1 {
			t.Errorf("the table of versions has %d rows, %v, want %d and 99", rows, err, before)
		}
	})
	t.Run("another encoding", func(t *testing.T) {
		refused(t, pgtest.Shared(t).Database(t, "ENCODING 'SQL_ASCII' TEMPLATE template0"), "the database is in SQL_ASCII")
	})
	t.Run("a database that is not there", func(t *testing.T) {
		address, err := url.Parse(pgtest.Shared(t).Database(t))
		if err != nil {
			t.Fatal(err)
		}
		address.Path = "/nowhere"
		refused(t, address.String(), `database "nowhere" does not exist`)
	})
	t.Run("a cancelled context", func(t *testing.T) {
		ctx, cancel := context.WithCancel(t.Context())
		cancel()
		if _, err := postgres.Open(ctx, pgtest.Shared(t).Database(t)); !errors.Is(err, context.Canceled) {
			t.Errorf("Open: %v, want context.Canceled", err)
		}
	})
}

// TestOpenKeepsThePassword looks into the errors of addresses that do not
// work for the password in them.
func TestOpenKeepsThePassword(t *testing.T) {
	here, err := url.Parse(pgtest.Shared(t).Database(t))
	if err != nil {
		t.Fatal(err)
	}
	socket := here.Query().Get("host")
	const secret, odd = "hunter2correct", "hunter2:p@ss/w?r#d%41"
	for _, c := range []struct{ name, address string }{
		{"wrong password", "postgres://firn:" + secret + "@/postgres?host=" + socket},
		{"wrong password, escaped", "postgres://firn:" + url.QueryEscape(odd) + "@/postgres?host=" + socket},
		{"wrong password, keys", "user=firn password=" + secret + " dbname=postgres host=" + socket},
		{"no such user", "postgres://nobody:" + secret + "@/postgres?host=" + socket},
		{"nobody listens", "postgres://firn:" + secret + "@127.0.0.1:1/firn?connect_timeout=5"},
		{"no such host", "postgres://firn:" + secret + "@host.invalid/firn?connect_timeout=5"},
		{"no such socket", "postgres://firn:" + secret + "@/firn?host=/nowhere"},
		{"port is a word", "postgres://firn:" + secret + "@localhost:port/firn"},
		{"sslmode is not known", "postgres://firn:" + secret + "@localhost/firn?sslmode=maybe"},
		{"not escaped", "postgres://firn:" + odd + "@localhost/firn"},
		{"a blank in it", "postgres://firn:" + secret + " x@local host/firn"},
		{"another scheme", "mysql://firn:" + secret + "@localhost/firn"},
		{"no scheme", "firn:" + secret + "@localhost/firn"},
		{"keys with a slip", "user=firn password='" + secret + " host=localhost"},
		{"a password only", secret},
	} {
		t.Run(c.name, func(t *testing.T) {
			ctx, cancel := context.WithTimeout(t.Context(), 10*time.Second)
			defer cancel()
			s, err := postgres.Open(ctx, c.address)
			if err == nil {
				s.Close()
				t.Fatal("Open takes it")
			}
			t.Log(err)
			storetest.NoSecret(t, err, secret, odd, url.QueryEscape(odd), "hunter2")
			for e := err; e != nil; e = errors.Unwrap(e) {
				storetest.NoSecret(t, e, "hunter2")
			}
		})
	}
	t.Run("odd, and right", func(t *testing.T) {
		pgtest.Shared(t).Exec(t, "CREATE ROLE odd LOGIN SUPERUSER PASSWORD '"+odd+"'")
		t.Cleanup(func() { pgtest.Shared(t).Exec(t, "DROP ROLE odd") }) // after its database
		address, err := url.Parse(pgtest.Shared(t).Database(t))
		if err != nil {
			t.Fatal(err)
		}
		address.User = url.UserPassword("odd", odd)
		if _, err := mustOpen(t, address.String()).Backlog(t.Context()); err != nil {
			t.Error(err)
		}
	})
}

// TestKeepsEnds looks for what no port reads back yet.
func TestKeepsEnds(t *testing.T) {
	address := pgtest.Shared(t).Database(t)
	s := mustOpen(t, address)
	for _, base := range []string{"XK1", "XK2", "XK3"} {
		a := watch.Alert{Base: base, Day: "2026-01-15", Seq: 1, Kind: watch.Opened, Made: noon}
		if _, err := s.Open(t.Context(), a, []outbox.Item{{Key: base, Channel: "page", Made: noon, Due: noon}}); err != nil {
			t.Fatal(err)
		}
	}
	c, err := s.Claim(t.Context(), noon, time.Minute, 3)
	if err != nil || len(c) != 3 {
		t.Fatalf("Claim = %v, %v", c, err)
	}
	_, err1 := s.Done(t.Context(), c[0], "1768480000.000100", noon)
	_, err2 := s.GiveUp(t.Context(), c[1], "channel is gone", noon)
	_, err3 := s.Later(t.Context(), c[2], noon.Add(time.Minute), "429")
	if err := errors.Join(err1, err2, err3); err != nil {
		t.Fatal(err)
	}
	var got string
	err = plain(t, address).QueryRow(t.Context(), `
		SELECT string_agg(concat_ws('|', key, state, ref, reason, extract(epoch FROM ended)::bigint), ' / ' ORDER BY key) FROM outbox`).Scan(&got)
	want := "XK1|sent|1768480000.000100|1768478400 / XK2|given-up|channel is gone|1768478400 / XK3|waiting|429"
	if err != nil || got != want {
		t.Errorf("outbox:\n got %s, %v\nwant %s", got, err, want)
	}
}

// TestOlderIsLeftAlone: only Open brings a schema up to date, and only it and
// OpenOrMake make one.
func TestOlderIsLeftAlone(t *testing.T) {
	address := pgtest.Shared(t).Database(t)
	if s, err := postgres.OpenThere(t.Context(), address); !errors.Is(err, postgres.ErrNone) {
		t.Errorf("OpenThere of an empty database = %v, %v, want ErrNone", s, err)
	}
	c := plain(t, address)
	var there bool
	if err := c.QueryRow(t.Context(), "SELECT to_regclass('schema_version') IS NOT NULL").Scan(&there); err != nil || there {
		t.Errorf("OpenThere made a schema: %v, %v", there, err)
	}
	db, err := sql.Open("pgx", address)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	p, err := goose.NewProvider(goose.DialectPostgres, db, os.DirFS("migrations"), goose.WithTableName("schema_version"), goose.WithDisableGlobalRegistry(true))
	if err != nil {
		t.Fatal(err)
	}
	all := p.ListSources()
	has := all[len(all)-2].Version
	if _, err := p.UpTo(t.Context(), has); err != nil {
		t.Fatal(err)
	}
	for name, open := range map[string]func(context.Context, string) (*postgres.Store, error){"OpenThere": postgres.OpenThere, "OpenOrMake": postgres.OpenOrMake} {
		s, err := open(t.Context(), address)
		if err == nil {
			s.Close()
		}
		if old, ok := errors.AsType[postgres.OldError](err); !ok || old.Has != has {
			t.Errorf("%s: %v, want an OldError", name, err)
		}
	}
	schema := func() (v int64) {
		if err := c.QueryRow(t.Context(), "SELECT max(version_id) FROM schema_version").Scan(&v); err != nil {
			t.Fatal(err)
		}
		return v
	}
	if is := schema(); is != has {
		t.Errorf("schema %d, want %d still", is, has)
	}
	mustOpen(t, address)
	if is := schema(); is <= has {
		t.Errorf("Open leaves it at schema %d", is)
	}
}

// TestBorn: a store knows when it was made, whatever zone the database has.
func TestBorn(t *testing.T) {
	address := pgtest.Shared(t).Database(t)
	if _, err := plain(t, address).Exec(t.Context(), "DO $$BEGIN EXECUTE 'ALTER DATABASE '||current_database()||' SET timezone TO ''Pacific/Auckland'''; END$$"); err != nil {
		t.Fatal(err)
	}
	s := mustOpen(t, address)
	born, err := s.Born(t.Context())
	if d := time.Since(born).Abs(); err != nil || d > time.Minute {
		t.Errorf("Born = %v, %v, want now", born, err)
	}
	if _, err := s.Open(t.Context(), watch.Alert{Base: "XKLD", Day: "2026-01-15", Seq: 1, Kind: watch.Opened, Made: noon}, nil); err != nil {
		t.Fatal(err)
	}
	if born, err = s.Born(t.Context()); err != nil || !born.Equal(noon) {
		t.Errorf("Born = %v, %v, want its first alert's time", born, err)
	}
}

// TestPasswordInAFile: nobody has to type a password where everybody on the
// machine reads it.
func TestPasswordInAFile(t *testing.T) {
	server := pgtest.Shared(t)
	address, err := url.Parse(server.Database(t))
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	file := func(name, text string) string {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		return path
	}
	user := address.User.Username()
	address.User = url.User(user)
	if s, err := postgres.Open(t.Context(), address.String()); err == nil {
		s.Close()
		t.Fatal("the database asks for no password, so that nothing is shown here")
	}
	t.Setenv("PGPASSFILE", file("pass", "*:*:*:"+user+":"+server.Password()+"\n"))
	if _, err := mustOpen(t, address.String()).Backlog(t.Context()); err != nil {
		t.Error(err)
	}
	t.Setenv("PGSERVICEFILE", file("service", "[firn]\nhost="+address.Query().Get("host")+"\nport="+address.Query().Get("port")+"\nuser="+user+"\ndbname="+strings.TrimPrefix(address.Path, "/")+"\n"))
	if _, err := mustOpen(t, "service=firn").Backlog(t.Context()); err != nil {
		t.Error(err)
	}
}
