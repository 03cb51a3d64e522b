package sqlite_test

import (
	"path/filepath"
	"testing"

	"firn/adapters/sqlite"
	"firn/bot/storetest"
)

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

func TestSQLite(t *testing.T) {
	storetest.Run(t, func(t *testing.T) storetest.Store {
		return mustOpen(t, filepath.Join(t.TempDir(), "firn.db"))
	})
}

func BenchmarkSQLite(b *testing.B) {
	storetest.Benchmark(b, mustOpen(b, filepath.Join(b.TempDir(), "firn.db")))
}
