package sqlstore_test

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	_ "github.com/jackc/pgx/v5/stdlib" // the driver "pgx"
	"github.com/pressly/goose/v3"

	"firn/adapters/sqlstore"
	"firn/adapters/testkit/pgtest"
	"firn/bot/access"
	"firn/bot/approach"
	"firn/bot/bases"
	"firn/bot/outbox"
	"firn/bot/pagestate"
	"firn/bot/testkit/storetest"
	"firn/bot/watch"
	"firn/bot/weather"
	"firn/engine/coldwatch"
)

var noon = time.Date(2026, 1, 15, 12, 0, 0, 0, time.UTC)

// store is what both databases keep.
type store interface {
	storetest.Store
	weather.Past
	access.Store
	approach.Store
	bases.Store
	pagestate.Store
	pagestate.Feed
	Born(context.Context) (time.Time, error)
	Restored(context.Context) error
	Close() error
}

// place is where a store is: a file, or a database's address.
type place struct {
	dialect goose.Dialect
	where   string
}

// inFile is a file that is not there yet.
func inFile(t testing.TB) place { return place{goose.DialectSQLite3, temp(t)} }

// inDatabase is an empty database.
func inDatabase(t testing.TB) place {
	return place{goose.DialectPostgres, pgtest.Shared(t).Database(t)}
}

// made is an empty store's file and the one beside it by which a copy is known.
var made = sync.OnceValues(func() (files [2][]byte, err error) {
	dir, err := os.MkdirTemp("", "firn-made-")
	if err != nil {
		return files, err
	}
	defer os.RemoveAll(dir)
	path := filepath.Join(dir, "firn.db")
	s, err := sqlstore.OpenSQLite(context.Background(), path, sqlstore.MayCreate)
	if err != nil {
		return files, err
	}
	if err := s.Close(); err != nil {
		return files, err
	}
	for i, name := range beside(path) {
		if files[i], err = os.ReadFile(name); err != nil {
			return files, err
		}
	}
	return files, nil
})

func beside(path string) [2]string { return [2]string{path, path + "-opening"} }

// preparedFile is an empty store, for tests that are about what is kept in it:
// the race detector makes bringing one to this schema longer than most of them.
func preparedFile(t testing.TB) place {
	t.Helper()
	files, err := made()
	if err != nil {
		t.Fatal(err)
	}
	p := inFile(t)
	for i, name := range beside(p.where) {
		if err := os.WriteFile(name, files[i], 0o600); err != nil {
			t.Fatal(err)
		}
	}
	return p
}

// both runs a test on each of the two.
func both(t *testing.T, test func(t *testing.T, fresh func(testing.TB) place)) {
	t.Run("SQLite", func(t *testing.T) { test(t, preparedFile) })
	t.Run("PostgreSQL", func(t *testing.T) {
		test(t, func(t testing.TB) place { return place{goose.DialectPostgres, prepared(t)} })
	})
}

// open opens a store as how says.
func (p place) open(ctx context.Context, how sqlstore.Opening) (store, error) {
	if p.dialect == goose.DialectSQLite3 {
		s, err := sqlstore.OpenSQLite(ctx, p.where, how)
		if err != nil {
			return nil, err
		}
		return s, nil
	}
	s, err := sqlstore.OpenPostgres(ctx, p.where, how)
	if err != nil {
		return nil, err
	}
	return s, nil
}

// must opens a store that the test closes.
func (p place) must(t testing.TB, how sqlstore.Opening) store {
	t.Helper()
	s, err := p.open(t.Context(), how)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := s.Close(); err != nil {
			t.Errorf("Close: %v", err)
		}
	})
	return s
}

// plain opens it without the package.
func (p place) plain(t testing.TB) *sql.DB {
	t.Helper()
	driver := "sqlite"
	if p.dialect == goose.DialectPostgres {
		driver = "pgx"
	}
	db, err := sql.Open(driver, p.where)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { db.Close() })
	return db
}

// change runs a statement without the package.
func (p place) change(t testing.TB, statement string, args ...any) {
	t.Helper()
	if _, err := p.plain(t).ExecContext(t.Context(), statement, args...); err != nil {
		t.Fatal(err)
	}
}

// at is a time as the place keeps it.
func (p place) at(t time.Time) any {
	if p.dialect == goose.DialectSQLite3 {
		return t.UnixMicro()
	}
	return t
}

// migrated makes a schema as a firn of before made it; a negative version counts
// from the newest.
func (p place) migrated(t testing.TB, version int64) int64 {
	t.Helper()
	folder := map[goose.Dialect]string{goose.DialectSQLite3: "migrations/sqlite", goose.DialectPostgres: "migrations/postgres"}[p.dialect]
	db := p.plain(t)
	defer db.Close() // nobody may be connected to what is copied
	by, err := goose.NewProvider(p.dialect, db, os.DirFS(folder), goose.WithTableName("schema_version"), goose.WithDisableGlobalRegistry(true))
	if err != nil {
		t.Fatal(err)
	}
	all := by.ListSources()
	if version < 0 {
		version = all[len(all)-1+int(version)].Version
	}
	if _, err := by.UpTo(t.Context(), version); err != nil {
		t.Fatal(err)
	}
	return version
}

// copied is a place with the same in it.
func (p place) copied(t testing.TB) place {
	t.Helper()
	if p.dialect == goose.DialectPostgres {
		address, err := url.Parse(p.where)
		if err != nil {
			t.Fatal(err)
		}
		return place{p.dialect, pgtest.Shared(t).Database(t, "TEMPLATE "+strings.TrimPrefix(address.Path, "/"))}
	}
	data, err := os.ReadFile(p.where)
	if err != nil {
		t.Fatal(err)
	}
	c := inFile(t)
	if err := os.WriteFile(c.where, data, 0o600); err != nil {
		t.Fatal(err)
	}
	return c
}

func (p place) schema(t testing.TB) (v int64) {
	t.Helper()
	if err := p.plain(t).QueryRowContext(t.Context(), "SELECT max(version_id) FROM schema_version").Scan(&v); err != nil {
		t.Fatal(err)
	}
	return v
}

// temp is a path for a store.
func temp(t testing.TB) string { return filepath.Join(t.TempDir(), "firn.db") }

// childFile and childAddress name what a child process delivers from.
const (
	childFile    = "FIRN_TEST_SQLITE_FILE"
	childAddress = "FIRN_TEST_POSTGRES_ADDRESS"
)

// deliverLease is long enough for a worker that lives and short enough for a
// test that waits for one that does not.
const deliverLease = 2 * time.Second

func TestMain(m *testing.M) {
	for name, dialect := range map[string]goose.Dialect{childFile: goose.DialectSQLite3, childAddress: goose.DialectPostgres} {
		where := os.Getenv(name)
		if where == "" {
			continue
		}
		if err := (place{dialect, where}).deliver(); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	os.Exit(m.Run())
}

// deliver is the child's whole life.
func (p place) deliver() error {
	ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
	defer cancel()
	s, err := p.open(ctx, sqlstore.MayCreate)
	if err != nil {
		return err
	}
	defer s.Close()
	return storetest.Deliver(ctx, s, deliverLease)
}

func TestSQLite(t *testing.T) {
	storetest.Run(t, func(t *testing.T) storetest.Store { return preparedFile(t).must(t, sqlstore.MayCreate) })
}

func TestPostgres(t *testing.T) {
	storetest.Run(t, func(t *testing.T) storetest.Store { return openDatabase(t, prepared(t)) })
}

func TestAccess(t *testing.T) {
	both(t, func(t *testing.T, fresh func(testing.TB) place) {
		storetest.RunAccess(t, func(t *testing.T) access.Store { return fresh(t).must(t, sqlstore.MayCreate) })
	})
}

func TestPast(t *testing.T) {
	both(t, func(t *testing.T, fresh func(testing.TB) place) {
		storetest.RunPast(t, func(t *testing.T) interface {
			weather.Archive
			weather.Past
		} {
			return fresh(t).must(t, sqlstore.MayCreate)
		})
	})
}

func TestBases(t *testing.T) {
	both(t, func(t *testing.T, fresh func(testing.TB) place) {
		storetest.RunBases(t, func(t *testing.T) storetest.BaseStore { return fresh(t).must(t, sqlstore.MayCreate) })
	})
}

func TestProcedures(t *testing.T) {
	both(t, func(t *testing.T, fresh func(testing.TB) place) {
		storetest.RunProcedures(t, func(t *testing.T) approach.Store { return fresh(t).must(t, sqlstore.MayCreate) })
	})
}

func TestRoom(t *testing.T) {
	both(t, func(t *testing.T, fresh func(testing.TB) place) {
		storetest.RunRoom(t, func(t *testing.T) pagestate.Store { return fresh(t).must(t, sqlstore.MayCreate) })
	})
}

func TestFeed(t *testing.T) {
	both(t, func(t *testing.T, fresh func(testing.TB) place) {
		storetest.RunFeed(t, func(t *testing.T) (here, there storetest.Told) {
			p := fresh(t)
			return p.must(t, sqlstore.MayCreate), p.must(t, sqlstore.MayCreate)
		})
	})
}

func TestTampered(t *testing.T) {
	both(t, func(t *testing.T, fresh func(testing.TB) place) {
		storetest.Tampered(t, func(t *testing.T) (storetest.Store, func(string)) {
			p := fresh(t)
			return p.must(t, sqlstore.MayCreate), func(statement string) {
				t.Helper()
				p.change(t, statement)
			}
		})
	})
}

// TestHeadless: a history whose end is not known is said in one sentence.
func TestHeadless(t *testing.T) {
	both(t, func(t *testing.T, fresh func(testing.TB) place) {
		p := fresh(t)
		s := p.must(t, sqlstore.MayCreate)
		p.change(t, "DELETE FROM history_head")
		_, walked := s.Walk(t.Context(), nil, nil)
		_, read := s.Head(t.Context())
		_, added := s.AddRecords(t.Context(), nil)
		for name, err := range map[string]error{"Walk": walked, "Head": read, "AddRecords": added} {
			if err == nil || !strings.Contains(err.Error(), "the last entry of the history is gone") || errors.Is(err, sql.ErrNoRows) {
				t.Errorf("%s: %v", name, err)
			}
		}
		p.change(t, "INSERT INTO history_head (one, seq, hash) VALUES (1, 0, $1)", make([]byte, 32)) // for the next test
	})
}

// TestTwoReplicasRecord has two stores on one place do one action, and write
// one history.
func TestTwoReplicasRecord(t *testing.T) {
	both(t, func(t *testing.T, fresh func(testing.TB) place) {
		t.Run("press at once", func(t *testing.T) {
			p := fresh(t)
			a, b := p.must(t, sqlstore.MayCreate), p.must(t, sqlstore.MayCreate)
			storetest.Press(t, a, b, a, b)
		})
		t.Run("write at once", func(t *testing.T) {
			p := fresh(t)
			a, b := p.must(t, sqlstore.MayCreate), p.must(t, sqlstore.MayCreate)
			storetest.Write(t, a, b, a, b)
		})
	})
}

func TestTwoStoresOnOnePlace(t *testing.T) {
	both(t, func(t *testing.T, fresh func(testing.TB) place) {
		t.Run("claim at once", func(t *testing.T) {
			p := fresh(t)
			a, b := p.must(t, sqlstore.MayCreate), p.must(t, sqlstore.MayCreate)
			storetest.Contend(t, a, b, a, b)
		})
		t.Run("die", func(t *testing.T) {
			p := fresh(t)
			storetest.Killed(t, p.must(t, sqlstore.MayCreate), p.must(t, sqlstore.MayCreate), p.must(t, sqlstore.MayCreate))
		})
		t.Run("take names", func(t *testing.T) {
			p := fresh(t)
			a, b := p.must(t, sqlstore.MayCreate), p.must(t, sqlstore.MayCreate)
			if held, err := a.Lease(t.Context(), "n", "a", time.Hour); !held || err != nil {
				t.Errorf("a: %v, %v", held, err)
			}
			if held, err := b.Lease(t.Context(), "n", "b", time.Hour); held || err != nil {
				t.Errorf("b beside a: %v, %v", held, err)
			}
		})
	})
}

// TestProcessesAreKilled kills processes that deliver from one store.
func TestProcessesAreKilled(t *testing.T) {
	both(t, func(t *testing.T, fresh func(testing.TB) place) {
		const items, kills = 60, 8
		p := fresh(t)
		s := p.must(t, sqlstore.MayCreate)
		storetest.Fill(t, s, items)
		child := childFile
		if p.dialect == goose.DialectPostgres {
			child = childAddress
		}
		start := func() *exec.Cmd {
			cmd := exec.Command(os.Args[0])
			cmd.Env = append(os.Environ(), child+"="+p.where)
			cmd.Stderr = os.Stderr
			if err := cmd.Start(); err != nil {
				t.Fatal(err)
			}
			return cmd
		}
		var wg sync.WaitGroup
		for w := range 2 {
			wg.Go(func() {
				for k := range kills / 2 {
					cmd := start()
					time.Sleep(time.Duration(60+35*w+25*k) * time.Millisecond) // any moment will do
					if err := cmd.Process.Kill(); err != nil {
						t.Error(err)
					}
					cmd.Wait() // killed, or through already
				}
			})
		}
		wg.Wait()
		last := start()
		if err := last.Wait(); err != nil {
			t.Errorf("the process that was left alone: %v", err)
		}
		storetest.Delivered(t, s, items)
		var again int
		if err := p.plain(t).QueryRow("SELECT count(*) FROM outbox WHERE attempt > 1").Scan(&again); err != nil {
			t.Fatal(err)
		}
		t.Logf("%d of %d items were taken over from a killed process", again, items)
	})
}

// TestKeepsEnds looks for what no port reads back yet.
func TestKeepsEnds(t *testing.T) {
	both(t, func(t *testing.T, fresh func(testing.TB) place) {
		p := fresh(t)
		s := p.must(t, sqlstore.MayCreate)
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
		aggregate, ended := "group_concat", "ended"
		if p.dialect == goose.DialectPostgres {
			aggregate, ended = "string_agg", "extract(epoch FROM ended)::bigint * 1000000"
		}
		var got string
		err = p.plain(t).QueryRow("SELECT " + aggregate + "(concat_ws('|', key, state, ref, reason, " + ended + "), ' / ' ORDER BY key) FROM outbox").Scan(&got)
		want := "XK1|sent|1768480000.000100|1768478400000000 / XK2|given-up|channel is gone|1768478400000000 / XK3|waiting|429"
		if err != nil || got != want {
			t.Errorf("outbox:\n got %s, %v\nwant %s", got, err, want)
		}
	})
}

// TestLinksSurviveAnUpgrade: whoever had a link before links had an end has it
// afterwards, without one, and stays signed in.
func TestLinksSurviveAnUpgrade(t *testing.T) {
	for name, p := range map[string]func(testing.TB) place{"SQLite": inFile, "PostgreSQL": inDatabase} {
		t.Run(name, func(t *testing.T) {
			p := p(t)
			p.migrated(t, 8) // the one before 00009_link_end.sql
			made := time.Date(2026, 1, 25, 12, 0, 0, 0, time.UTC)
			_, token := access.Secret()
			_, session := access.Secret()
			p.change(t, "INSERT INTO page_link (name, hash, scope, made) VALUES ($1, $2, $3, $4)", "crew_1", token[:], "duty", p.at(made))
			p.change(t, "INSERT INTO page_session (hash, link, made, used) VALUES ($1, $2, $3, $4)", session[:], token[:], p.at(made), p.at(made))
			s := p.must(t, sqlstore.ToServe)
			later := made.Add(time.Hour)
			if got, ok, err := s.Session(t.Context(), session, later, made.Add(-time.Hour)); !ok || err != nil || got.Name != "crew_1" || got.Scope != access.Duty || !got.Ends.IsZero() {
				t.Errorf("the session is %+v, %v, %v", got, ok, err)
			}
			_, fresh := access.Secret()
			if _, ok, err := s.Enter(t.Context(), token, access.Session{Hash: fresh, Made: later, Used: later}, made); !ok || err != nil {
				t.Errorf("the link: %v, %v", ok, err)
			}
		})
	}
}

// TestAlertsSurviveAnUpgrade: an alert that was written before it was kept how
// far its forecast goes reads back, and a new state beside it.
func TestAlertsSurviveAnUpgrade(t *testing.T) {
	for name, p := range map[string]func(testing.TB) place{"SQLite": inFile, "PostgreSQL": inDatabase} {
		t.Run(name, func(t *testing.T) {
			p := p(t)
			p.migrated(t, 7) // the one before 00008_covered.sql
			made := time.Date(2026, 1, 15, 13, 0, 0, 0, time.UTC)
			p.change(t, `INSERT INTO alert (base, day, seq, kind, state, low_c, low_at, below_from, below_to, hours_known, covered, restriction_c, source, issued, note, made)
				VALUES ('XKLD', '2026-01-15', 1, 'opened', 'below', -31, $1, $2, $2, $3, $3, -25, 'TAF', $1, '', $1)`, p.at(made), p.at(time.Time{}), true)
			s := p.must(t, sqlstore.ToServe)
			second := watch.Alert{Base: "XKLD", Day: "2026-01-15", Seq: 2, Kind: watch.Ended, Made: made,
				Judgement: coldwatch.Judgement{State: coldwatch.PartForecast, CoveredFrom: made, CoveredTo: made.Add(time.Hour)}}
			if fresh, err := s.Open(t.Context(), second, nil); err != nil || !fresh {
				t.Fatal(fresh, err)
			}
			d, err := s.Day(t.Context(), "XKLD", "2026-01-15")
			if err != nil || len(d.Alerts) != 2 || d.Alerts[1] != second {
				t.Fatalf("%+v, %v", d, err)
			}
			if j := d.Alerts[0].Judgement; j.State != coldwatch.Below || j.Low != -31 || !j.CoveredFrom.IsZero() || !j.CoveredTo.IsZero() {
				t.Errorf("the alert of before reads back as %+v", j)
			}
		})
	}
}

// TestEverySchemaIsUpgraded: whatever firn made the store, this one serves it.
func TestEverySchemaIsUpgraded(t *testing.T) {
	for name, p := range map[string]func(testing.TB) place{"SQLite": inFile, "PostgreSQL": inDatabase} {
		t.Run(name, func(t *testing.T) {
			older := p(t)
			for version, newest := int64(1), int64(2); version < newest; version++ {
				older.migrated(t, version)
				p := older.copied(t)
				s := p.must(t, sqlstore.ToServe)
				newest = p.schema(t)
				if b, err := s.Backlog(t.Context()); err != nil || b.Waiting != 0 {
					t.Errorf("of schema %d: %+v, %v", version, b, err)
				}
				if added, err := s.AddToken(t.Context(), access.Token{Name: "crew", Made: noon}); err != nil || !added {
					t.Errorf("of schema %d: %v, %v", version, added, err)
				}
			}
		})
	}
}

// TestLiveRecordsAreFoundByTheirIndex: the condition of the indexes is the one
// of the statements, which SQLite compares word by word.
func TestLiveRecordsAreFoundByTheirIndex(t *testing.T) {
	p := inFile(t)
	p.must(t, sqlstore.MayCreate)
	for query, want := range map[string]string{
		"SELECT made, live FROM record WHERE NOT over ORDER BY asked, id LIMIT 1":                      "record_live",
		"SELECT made, live FROM record WHERE station = 'XKLD' AND NOT over ORDER BY asked, id LIMIT 1": "record_live_station",
	} {
		var id, parent, unused int
		var plan string
		if err := p.plain(t).QueryRow("EXPLAIN QUERY PLAN "+query).Scan(&id, &parent, &unused, &plan); err != nil || !slices.Contains(strings.Fields(plan), want) {
			t.Errorf("%s: %s, %v, want the index %s", query, plan, err, want)
		}
	}
	// An index that nothing uses is written with each entry all the same.
	var idle int
	if err := p.plain(t).QueryRow("SELECT count(*) FROM sqlite_schema WHERE type = 'index' AND tbl_name = 'history'").Scan(&idle); err != nil || idle > 0 {
		t.Errorf("the history has %d indexes besides its order, %v, want none", idle, err)
	}
}

func BenchmarkSQLite(b *testing.B) { storetest.Benchmark(b, inFile(b).must(b, sqlstore.MayCreate)) }

func BenchmarkSQLiteRecords(b *testing.B) {
	storetest.BenchmarkRecords(b, inFile(b).must(b, sqlstore.MayCreate))
}

// durable has the server write to the disk, as it does in use.
func durable(b *testing.B) store {
	return openDatabase(b, pgtest.New(b, "fsync=on", "full_page_writes=on").Database(b))
}

func BenchmarkPostgres(b *testing.B) { storetest.Benchmark(b, durable(b)) }

func BenchmarkPostgresRecords(b *testing.B) { storetest.BenchmarkRecords(b, durable(b)) }

// TestSize: a store tells how much it takes.
func TestSize(t *testing.T) {
	both(t, func(t *testing.T, fresh func(testing.TB) place) {
		s := fresh(t).must(t, sqlstore.MayCreate)
		sized, ok := s.(approach.Sized)
		if !ok {
			t.Fatal("it does not tell its size")
		}
		before, err := sized.Size(t.Context())
		if err != nil || before < 1<<14 {
			t.Fatalf("an empty one takes %d bytes, %v", before, err)
		}
		const each = 1 << 10
		_, err = s.Replace(t.Context(), "cifp", nil, func(add func(*approach.Approach) error) (approach.Edition, error) {
			for i := range 1000 {
				name := fmt.Sprintf("R%03d", i)
				if err := add(&approach.Approach{Ident: "XKLD", Code: name, Name: strings.Repeat("x", each)}); err != nil {
					return approach.Edition{}, err
				}
			}
			return approach.Edition{Cycle: "2609"}, nil
		})
		if err != nil {
			t.Fatal(err)
		}
		if after, err := sized.Size(t.Context()); err != nil || after <= before {
			t.Errorf("%d bytes before, %d after, %v", before, after, err)
		}
	})
}

// TestClaimsOfWhoWasKilled: a post that a serve had claimed when it was killed is the
// next one's at once where one serves alone; with replicas it is known until when it
// is not, for the other may live.
func TestClaimsOfWhoWasKilled(t *testing.T) {
	for name, p := range map[string]func(testing.TB) place{"SQLite": inFile, "PostgreSQL": inDatabase} {
		t.Run(name, func(t *testing.T) {
			p := p(t)
			claim := func(how sqlstore.Opening) (claims []outbox.Claim, n int, longest time.Duration) {
				t.Helper()
				s := p.must(t, how)
				a := watch.Alert{Base: "XKLD", Day: "2026-01-15", Seq: 1, Kind: watch.Opened, Made: noon}
				if _, err := s.Open(t.Context(), a, []outbox.Item{{Key: a.Key(), Channel: "page", Made: noon, Due: noon}}); err != nil {
					t.Fatal(err)
				}
				claims, err := s.Claim(t.Context(), noon, time.Hour, 10)
				if err != nil {
					t.Fatal(err)
				}
				if n, longest, err = s.(outbox.Taker).Taken(t.Context()); err != nil {
					t.Fatal(err)
				}
				if err := s.Close(); err != nil { // which gives nothing back
					t.Fatal(err)
				}
				return claims, n, longest
			}
			for i, c := range []struct {
				how  sqlstore.Opening
				want int // the attempt; 0: it is another's
			}{{sqlstore.ToServe, 1}, {sqlstore.MayCreate, 0}, {sqlstore.ToServe, map[string]int{"SQLite": 2}[name]}} {
				claims, n, longest := claim(c.how)
				got := 0
				if len(claims) > 0 {
					got = claims[0].Attempt
				}
				if got != c.want {
					t.Errorf("opening %d: attempt %d, want %d", i, got, c.want)
				}
				if n != 1 || longest > time.Hour || longest < 50*time.Minute {
					t.Errorf("opening %d: %d are taken for %v, want 1 for an hour", i, n, longest)
				}
			}
		})
	}
}

// TestAloneInAFile: the names that who serves from a file takes are taken until they
// are given back, and no longer than its process.
func TestAloneInAFile(t *testing.T) {
	p := inFile(t)
	s := p.must(t, sqlstore.ToServe)
	take := func(s store, name string, want bool) (unlock func(context.Context) error) {
		t.Helper()
		unlock, held, err := s.(*sqlstore.SQLite).Alone(t.Context(), name)
		if err != nil || held != want {
			t.Errorf("%s is taken: %v, %v; want %v", name, held, err, want)
		}
		return unlock
	}
	unlock := take(s, "tick/watch", true)
	take(s, "tick/watch", false)
	take(s, "tick/record", true)
	if err := unlock(t.Context()); err != nil {
		t.Fatal(err)
	}
	take(s, "tick/watch", true)
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	take(p.must(t, sqlstore.ToServe), "tick/watch", true)
}
