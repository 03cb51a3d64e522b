package sqlstore_test

import (
	"context"
	"errors"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/pressly/goose/v3/lock"

	"firn/adapters/sqlstore"
	"firn/adapters/testkit/pgtest"
	"firn/bot/testkit/storetest"
	"firn/bot/watch"
)

// TestDatabaseOpenedAtOnce has replicas open an empty database together.
func TestDatabaseOpenedAtOnce(t *testing.T) {
	address := pgtest.Shared(t).Database(t)
	var wg sync.WaitGroup
	for range 4 {
		wg.Go(func() {
			s, err := sqlstore.OpenPostgres(t.Context(), address, sqlstore.MayCreate)
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
	openDatabase(t, address)
	var applied int
	if err := plainDatabase(t, address).QueryRow(t.Context(), "SELECT count(*) FROM schema_version WHERE version_id = 1").Scan(&applied); err != nil || applied != 1 {
		t.Errorf("the schema was applied %d times, %v, want once", applied, err)
	}
}

// TestDatabaseInTheMaking: while a first serve makes the schema it looks like an
// older one; whoever opens it then waits.
func TestDatabaseInTheMaking(t *testing.T) {
	address := pgtest.Shared(t).Database(t)
	openDatabase(t, address)
	maker := plainDatabase(t, address)
	sql := func(text string, args ...any) {
		t.Helper()
		if _, err := maker.Exec(t.Context(), text, args...); err != nil {
			t.Fatal(err)
		}
	}
	sql("SELECT pg_advisory_lock($1)", lock.DefaultLockID)
	sql("UPDATE schema_version SET version_id = -version_id WHERE version_id > 3")
	done := make(chan error, 1)
	go func() {
		s, err := sqlstore.OpenPostgres(t.Context(), address, sqlstore.MustExist)
		if err == nil {
			err = s.Close()
		}
		done <- err
	}()
	for asks := 0; asks == 0; {
		select {
		case err := <-done:
			t.Fatalf("it does not wait: %v", err)
		default:
		}
		if err := maker.QueryRow(t.Context(), "SELECT count(*) FROM pg_stat_activity WHERE datname = current_database() AND pid <> pg_backend_pid() AND query LIKE '%advisory_lock%'").Scan(&asks); err != nil {
			t.Fatal(err)
		}
	}
	sql("UPDATE schema_version SET version_id = -version_id WHERE version_id < 0")
	sql("SELECT pg_advisory_unlock($1)", lock.DefaultLockID)
	if err := <-done; err != nil {
		t.Error(err)
	}
}

func TestDatabaseRefused(t *testing.T) {
	refused := func(t *testing.T, address, want string) {
		t.Helper()
		s, err := sqlstore.OpenPostgres(t.Context(), address, sqlstore.MayCreate)
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
		openDatabase(t, address)
		c := plainDatabase(t, address)
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
		if _, err := sqlstore.OpenPostgres(ctx, pgtest.Shared(t).Database(t), sqlstore.MayCreate); !errors.Is(err, context.Canceled) {
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
			s, err := sqlstore.OpenPostgres(ctx, c.address, sqlstore.MayCreate)
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
		if _, err := openDatabase(t, address.String()).Backlog(t.Context()); err != nil {
			t.Error(err)
		}
	})
}

// TestOlderDatabaseIsLeftAlone: only who serves brings a schema up to date, and
// only that one and who may create make one.
func TestOlderDatabaseIsLeftAlone(t *testing.T) {
	p := inDatabase(t)
	if s, err := p.open(t.Context(), sqlstore.MustExist); !errors.Is(err, sqlstore.ErrNone) {
		t.Errorf("MustExist of an empty database = %v, %v, want ErrNone", s, err)
	}
	var there bool
	if err := p.plain(t).QueryRow("SELECT to_regclass('schema_version') IS NOT NULL").Scan(&there); err != nil || there {
		t.Errorf("MustExist made a schema: %v, %v", there, err)
	}
	has := p.migrated(t, -1)
	for _, how := range []sqlstore.Opening{sqlstore.MustExist, sqlstore.MayCreate} {
		s, err := p.open(t.Context(), how)
		if err == nil {
			s.Close()
		}
		if old, ok := errors.AsType[sqlstore.OldError](err); !ok || old.Has != has {
			t.Errorf("opening %d: %v, want an OldError", how, err)
		}
	}
	if is := p.schema(t); is != has {
		t.Errorf("schema %d, want %d still", is, has)
	}
	p.must(t, sqlstore.ToServe)
	if is := p.schema(t); is <= has {
		t.Errorf("ToServe leaves it at schema %d", is)
	}
}

// TestBornInADatabase: a store knows when it was made, whatever zone the database has.
func TestBornInADatabase(t *testing.T) {
	address := pgtest.Shared(t).Database(t)
	if _, err := plainDatabase(t, address).Exec(t.Context(), "DO $$BEGIN EXECUTE 'ALTER DATABASE '||current_database()||' SET timezone TO ''Pacific/Auckland'''; END$$"); err != nil {
		t.Fatal(err)
	}
	s := openDatabase(t, address)
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
	if s, err := sqlstore.OpenPostgres(t.Context(), address.String(), sqlstore.MayCreate); err == nil {
		s.Close()
		t.Fatal("the database asks for no password, so that nothing is shown here")
	}
	t.Setenv("PGPASSFILE", file("pass", "*:*:*:"+user+":"+server.Password()+"\n"))
	if _, err := openDatabase(t, address.String()).Backlog(t.Context()); err != nil {
		t.Error(err)
	}
	t.Setenv("PGSERVICEFILE", file("service", "[firn]\nhost="+address.Query().Get("host")+"\nport="+address.Query().Get("port")+"\nuser="+user+"\ndbname="+strings.TrimPrefix(address.Path, "/")+"\n"))
	if _, err := openDatabase(t, "service=firn").Backlog(t.Context()); err != nil {
		t.Error(err)
	}
}
