package postgres_test

import (
	"testing"

	"firn/adapters/testkit/pgtest"
	"firn/bot/testkit/storetest"
)

func TestTampered(t *testing.T) {
	storetest.Tampered(t, func(t *testing.T) (storetest.Store, func(string)) {
		address := prepared(t)
		return mustOpen(t, address), func(statement string) {
			t.Helper()
			if _, err := plain(t, address).Exec(t.Context(), statement); err != nil {
				t.Fatal(err)
			}
		}
	})
}

// TestTwoReplicasRecord has two stores on one database do one deed, and write
// one history.
func TestTwoReplicasRecord(t *testing.T) {
	t.Run("press at once", func(t *testing.T) {
		address := prepared(t)
		a, b := mustOpen(t, address), mustOpen(t, address)
		storetest.Press(t, a, b, a, b)
	})
	t.Run("write at once", func(t *testing.T) {
		address := prepared(t)
		a, b := mustOpen(t, address), mustOpen(t, address)
		storetest.Write(t, a, b, a, b)
	})
}

// BenchmarkRecords has the server write to the disk, as it does in use.
func BenchmarkRecords(b *testing.B) {
	durable := pgtest.New(b, "fsync=on", "full_page_writes=on")
	storetest.BenchmarkRecords(b, mustOpen(b, durable.Database(b)))
}
