package postgres_test

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"sync"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"

	"firn/adapters/postgres"
	"firn/adapters/testkit/pgtest"
	"firn/bot/outbox"
	"firn/bot/testkit/storetest"
	"firn/bot/watch"
)

// childAddress names the database that a child process delivers from.
const childAddress = "FIRN_TEST_POSTGRES_ADDRESS"

// deliverLease is long enough for a worker that lives and short enough for a
// test that waits for one that does not.
const deliverLease = 2 * time.Second

func TestMain(m *testing.M) {
	if address := os.Getenv(childAddress); address != "" {
		if err := deliver(address); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	os.Exit(m.Run())
}

// deliver is the child's whole life.
func deliver(address string) error {
	ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
	defer cancel()
	s, err := postgres.Open(ctx, address)
	if err != nil {
		return err
	}
	defer s.Close()
	return storetest.Deliver(ctx, s, deliverLease)
}

// mustOpen opens a store that the test closes.
func mustOpen(t testing.TB, address string) *postgres.Store {
	t.Helper()
	s, err := postgres.Open(t.Context(), address)
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

// spare are prepared databases that no test uses just now.
var spare struct {
	sync.Mutex
	number    int
	addresses []string
}

// prepared gives an empty store's database, which another test has when this
// one is done: to make one, and to drop it, takes longer than most tests.
func prepared(t testing.TB) string {
	t.Helper()
	pg := pgtest.Shared(t)
	spare.Lock()
	defer spare.Unlock()
	var address string
	if last := len(spare.addresses) - 1; last >= 0 {
		address, spare.addresses = spare.addresses[last], spare.addresses[:last]
	} else {
		var err error
		spare.number++
		if address, err = pg.Create(t.Context(), fmt.Sprintf("prepared_%d", spare.number)); err != nil {
			t.Fatal(err)
		}
		s, err := postgres.Open(t.Context(), address)
		if err != nil {
			t.Fatal(err)
		}
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
	}
	t.Cleanup(func() {
		if err := empty(address); err != nil {
			t.Errorf("the database cannot be used again: %v", err)
			return
		}
		spare.Lock()
		defer spare.Unlock()
		spare.addresses = append(spare.addresses, address)
	})
	return address
}

// empty makes a store's database as the migrations leave it, whoever may still
// be connected. What they fill is filled anew.
func empty(address string) error {
	ctx := context.Background() // the test's own has ended when it clears up
	c, err := pgx.Connect(ctx, address)
	if err != nil {
		return err
	}
	_, err = c.Exec(ctx, `
		DO $$ DECLARE found record; BEGIN
			PERFORM pg_terminate_backend(pid, 5000) FROM pg_stat_activity WHERE datname = current_database() AND pid <> pg_backend_pid();
			FOR found IN SELECT tablename FROM pg_tables WHERE schemaname = 'public' AND tablename <> 'schema_version' LOOP
				EXECUTE format('DELETE FROM %I', found.tablename);
			END LOOP;
			FOR found IN SELECT sequencename FROM pg_sequences WHERE schemaname = 'public' LOOP
				EXECUTE format('ALTER SEQUENCE %I RESTART', found.sequencename);
			END LOOP;
			INSERT INTO history_head (one, seq, hash) VALUES (1, 0, decode(repeat('00', 32), 'hex'));
			INSERT INTO instance (one, mark) VALUES (1, '');
		END $$`)
	return errors.Join(err, c.Close(ctx))
}

// plain connects to a database without the package.
func plain(t testing.TB, address string) *pgx.Conn {
	t.Helper()
	c, err := pgx.Connect(t.Context(), address)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { c.Close(context.Background()) })
	return c
}

func TestPostgres(t *testing.T) {
	storetest.Run(t, func(t *testing.T) storetest.Store { return mustOpen(t, prepared(t)) })
}

func TestTwoStoresOnOneDatabase(t *testing.T) {
	t.Run("claim at once", func(t *testing.T) {
		address := prepared(t)
		a, b := mustOpen(t, address), mustOpen(t, address)
		storetest.Contend(t, a, b, a, b)
	})
	t.Run("die", func(t *testing.T) {
		address := prepared(t)
		storetest.Killed(t, mustOpen(t, address), mustOpen(t, address), mustOpen(t, address))
	})
	t.Run("where transactions are serializable", func(t *testing.T) {
		address := pgtest.Shared(t).Database(t)
		if _, err := plain(t, address).Exec(t.Context(), `
			DO $$ BEGIN
				EXECUTE format('ALTER DATABASE %I SET default_transaction_isolation = serializable', current_database());
			END $$`); err != nil {
			t.Fatal(err)
		}
		storetest.Contend(t, mustOpen(t, address), mustOpen(t, address), mustOpen(t, address))
	})
}

// TestProcessesAreKilled kills processes that deliver from one database.
func TestProcessesAreKilled(t *testing.T) {
	const items, kills = 60, 8
	address := prepared(t)
	s := mustOpen(t, address)
	storetest.Fill(t, s, items)
	start := func() *exec.Cmd {
		cmd := exec.Command(os.Args[0])
		cmd.Env = append(os.Environ(), childAddress+"="+address)
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
	if err := plain(t, address).QueryRow(t.Context(), "SELECT count(*) FROM outbox WHERE attempt > 1").Scan(&again); err != nil {
		t.Fatal(err)
	}
	t.Logf("%d of %d items were taken over from a killed process", again, items)
}

// TestClaimDoesNotWait claims beside a row that another process has locked.
func TestClaimDoesNotWait(t *testing.T) {
	address := prepared(t)
	s := mustOpen(t, address)
	storetest.Fill(t, s, 5)
	tx, err := plain(t, address).Begin(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if _, err := tx.Exec(t.Context(), "SELECT FROM outbox WHERE key = 'alert/XK05/2026-01-15/1' FOR UPDATE"); err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithTimeout(t.Context(), 5*time.Second)
	defer cancel()
	claims, err := s.Claim(ctx, noon.AddDate(1, 0, 0), time.Hour, 3)
	if err != nil || len(claims) != 3 || claims[0].Key != "alert/XK04/2026-01-15/1" {
		t.Errorf("Claim = %v, %v, want the three after the locked one", claims, err)
	}
	if err := tx.Rollback(t.Context()); err != nil {
		t.Fatal(err)
	}
	if claims, err = s.Claim(ctx, noon.AddDate(1, 0, 0), time.Hour, 10); err != nil || len(claims) != 2 {
		t.Errorf("Claim = %v, %v, want the two that are left", claims, err)
	}
}

// TestConnectionsAreCut has every connection cut, again and again; each call
// is made until it goes through.
func TestConnectionsAreCut(t *testing.T) {
	address := prepared(t)
	s := mustOpen(t, address)
	admin := plain(t, address)
	cut := func() {
		if _, err := admin.Exec(t.Context(), `
			SELECT pg_terminate_backend(pid) FROM pg_stat_activity
			WHERE datname = current_database() AND pid <> pg_backend_pid()`); err != nil {
			t.Error(err)
		}
	}
	failed := 0
	again := func(what string, call func() error) {
		t.Helper()
		for range 200 { // a machine that is busy needs longer for a call than between two cuts
			err := call()
			if err == nil {
				return
			}
			failed++
			storetest.NoSecret(t, err, pgtest.Shared(t).Password())
		}
		t.Errorf("%s never goes through", what)
	}
	const alerts = 20
	var wg sync.WaitGroup
	done := make(chan struct{})
	wg.Go(func() {
		for {
			select {
			case <-done:
				return
			case <-time.After(time.Duration(1+rand.IntN(20)) * time.Millisecond):
				cut()
			}
		}
	})
	opened, sent := 0, 0
	for seq := 1; seq <= alerts; seq++ {
		a := watch.Alert{Base: "XKLD", Day: "2026-01-15", Seq: seq, Kind: watch.Opened, Made: noon}
		p := outbox.Item{Key: fmt.Sprintf("alert/XKLD/2026-01-15/%d", seq), Channel: "page", Made: noon, Due: noon}
		again("Open", func() error {
			fresh, err := s.Open(t.Context(), a, []outbox.Item{p})
			if fresh {
				opened++
			}
			return err
		})
		again("Claim", func() error {
			claims, err := s.Claim(t.Context(), noon, time.Minute, 10)
			for _, c := range claims {
				again("Done", func() error {
					held, err := s.Done(t.Context(), c, "ref", noon)
					if held {
						sent++
					}
					return err
				})
			}
			return err
		})
	}
	close(done)
	wg.Wait()
	again("Day", func() error {
		d, err := s.Day(t.Context(), "XKLD", "2026-01-15")
		if err == nil && len(d.Alerts) != alerts {
			t.Errorf("%d alerts, want %d", len(d.Alerts), alerts)
		}
		return err
	})
	var rows int
	if err := admin.QueryRow(t.Context(), "SELECT count(*) FROM outbox").Scan(&rows); err != nil || rows != alerts {
		t.Errorf("%d posts, %v, want %d", rows, err, alerts)
	}
	if opened > alerts || sent > alerts {
		t.Errorf("%d fresh and %d sent of %d", opened, sent, alerts)
	}
	t.Logf("%d calls failed; %d of %d alerts were told fresh", failed, opened, alerts)
}

// BenchmarkPostgres has the server write to the disk, as it does in use.
func BenchmarkPostgres(b *testing.B) {
	durable := pgtest.New(b, "fsync=on", "full_page_writes=on")
	storetest.Benchmark(b, mustOpen(b, durable.Database(b)))
}
