package sqlstore_test

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"sync"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/pressly/goose/v3"

	"firn/adapters/sqlstore"
	"firn/adapters/testkit/pgtest"
	"firn/bot/outbox"
	"firn/bot/testkit/storetest"
	"firn/bot/watch"
)

// openDatabase opens a store that the test closes.
func openDatabase(t testing.TB, address string) *sqlstore.Postgres {
	t.Helper()
	return place{goose.DialectPostgres, address}.must(t, sqlstore.MayCreate).(*sqlstore.Postgres)
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
		s, err := sqlstore.OpenPostgres(t.Context(), address, sqlstore.MayCreate)
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

// plainDatabase connects to a database without the package.
func plainDatabase(t testing.TB, address string) *pgx.Conn {
	t.Helper()
	c, err := pgx.Connect(t.Context(), address)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { c.Close(context.Background()) })
	return c
}

// TestSerializableDatabase: what a database has for a default does not matter.
func TestSerializableDatabase(t *testing.T) {
	address := pgtest.Shared(t).Database(t)
	if _, err := plainDatabase(t, address).Exec(t.Context(), `
			DO $$ BEGIN
				EXECUTE format('ALTER DATABASE %I SET default_transaction_isolation = serializable', current_database());
			END $$`); err != nil {
		t.Fatal(err)
	}
	storetest.Contend(t, openDatabase(t, address), openDatabase(t, address), openDatabase(t, address))
}

// TestClaimDoesNotWait claims beside a row that another process has locked.
func TestClaimDoesNotWait(t *testing.T) {
	address := prepared(t)
	s := openDatabase(t, address)
	storetest.Fill(t, s, 5)
	tx, err := plainDatabase(t, address).Begin(t.Context())
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
	s := openDatabase(t, address)
	admin := plainDatabase(t, address)
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
