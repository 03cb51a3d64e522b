package sqlite_test

import (
	"testing"

	"firn/bot/testkit/storetest"
)

func TestTampered(t *testing.T) {
	storetest.Tampered(t, func(t *testing.T) (storetest.Store, func(string)) {
		path := temp(t)
		return mustOpen(t, path), func(statement string) {
			t.Helper()
			if _, err := plain(t, path).Exec(statement); err != nil {
				t.Fatal(err)
			}
		}
	})
}

// TestTwoReplicasRecord has two stores on one database do one deed, and write
// one history.
func TestTwoReplicasRecord(t *testing.T) {
	t.Run("press at once", func(t *testing.T) {
		path := temp(t)
		a, b := mustOpen(t, path), mustOpen(t, path)
		storetest.Press(t, a, b, a, b)
	})
	t.Run("write at once", func(t *testing.T) {
		path := temp(t)
		a, b := mustOpen(t, path), mustOpen(t, path)
		storetest.Write(t, a, b, a, b)
	})
}

func BenchmarkRecords(b *testing.B) { storetest.BenchmarkRecords(b, mustOpen(b, temp(b))) }
