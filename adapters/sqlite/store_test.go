package sqlite_test

import (
	"context"
	"database/sql"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"firn/adapters/sqlite"
	"firn/bot/testkit/storetest"
)

// childFile names the file that a child process delivers from.
const childFile = "FIRN_TEST_SQLITE_FILE"

// deliverLease is long enough for a worker that lives and short enough for a
// test that waits for one that does not.
const deliverLease = 2 * time.Second

func TestMain(m *testing.M) {
	if file := os.Getenv(childFile); file != "" {
		if err := deliver(file); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	os.Exit(m.Run())
}

// deliver is the child's whole life.
func deliver(file string) error {
	ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
	defer cancel()
	s, err := sqlite.Open(ctx, file)
	if err != nil {
		return err
	}
	defer s.Close()
	return storetest.Deliver(ctx, s, deliverLease)
}

// mustOpen opens a store that the test closes.
func mustOpen(t testing.TB, path string) *sqlite.Store {
	t.Helper()
	s, err := sqlite.Open(t.Context(), path)
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

// temp is a path for a store.
func temp(t testing.TB) string { return filepath.Join(t.TempDir(), "firn.db") }

// plain opens a file without the package.
func plain(t testing.TB, path string) *sql.DB {
	t.Helper()
	db, err := sql.Open("sqlite", path)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { db.Close() })
	return db
}

func TestSQLite(t *testing.T) {
	storetest.Run(t, func(t *testing.T) storetest.Store { return mustOpen(t, temp(t)) })
}

func TestTwoStoresOnOneFile(t *testing.T) {
	t.Run("claim at once", func(t *testing.T) {
		path := temp(t)
		a, b := mustOpen(t, path), mustOpen(t, path)
		storetest.Contend(t, a, b, a, b)
	})
	t.Run("die", func(t *testing.T) {
		path := temp(t)
		storetest.Killed(t, mustOpen(t, path), mustOpen(t, path), mustOpen(t, path))
	})
	t.Run("take names", func(t *testing.T) {
		path := temp(t)
		a, b := mustOpen(t, path), mustOpen(t, path)
		if held, err := a.Lease(t.Context(), "n", "a", time.Hour); !held || err != nil {
			t.Errorf("a: %v, %v", held, err)
		}
		if held, err := b.Lease(t.Context(), "n", "b", time.Hour); held || err != nil {
			t.Errorf("b beside a: %v, %v", held, err)
		}
	})
}

// TestProcessesAreKilled kills processes that deliver from one file.
func TestProcessesAreKilled(t *testing.T) {
	const items, kills = 60, 8
	path := temp(t)
	s := mustOpen(t, path)
	storetest.Fill(t, s, items)
	start := func() *exec.Cmd {
		cmd := exec.Command(os.Args[0])
		cmd.Env = append(os.Environ(), childFile+"="+path)
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
	if err := plain(t, path).QueryRow("SELECT count(*) FROM outbox WHERE attempt > 1").Scan(&again); err != nil {
		t.Fatal(err)
	}
	t.Logf("%d of %d items were taken over from a killed process", again, items)
}

func BenchmarkSQLite(b *testing.B) { storetest.Benchmark(b, mustOpen(b, temp(b))) }
