package sqlstore_test

import (
	"testing"
	"time"
)

// TestAlone: one of two has a lock, until it gives it back or its connection
// ends.
func TestAlone(t *testing.T) {
	address := prepared(t)
	one, two := openDatabase(t, address), openDatabase(t, address)
	unlock, held, err := one.Alone(t.Context(), "tick/watch")
	if err != nil || !held {
		t.Fatalf("the first: held %v, %v", held, err)
	}
	if _, held, err := two.Alone(t.Context(), "tick/watch"); err != nil || held {
		t.Fatalf("the second: held %v, %v; want it to wait its turn", held, err)
	}
	other, held, err := two.Alone(t.Context(), "tick/record")
	if err != nil || !held {
		t.Fatalf("another name: held %v, %v", held, err)
	}
	if err := other(t.Context()); err != nil {
		t.Fatal(err)
	}
	if err := unlock(t.Context()); err != nil {
		t.Fatal(err)
	}
	unlock, held, err = two.Alone(t.Context(), "tick/watch")
	if err != nil || !held {
		t.Fatalf("after it was given back: held %v, %v", held, err)
	}

	// Its connection ends, as when its process dies.
	if _, err := plainDatabase(t, address).Exec(t.Context(), `
		SELECT pg_terminate_backend(pid) FROM pg_locks
		WHERE locktype = 'advisory' AND pid <> pg_backend_pid()
		AND database = (SELECT oid FROM pg_database WHERE datname = current_database())`); err != nil {
		t.Fatal(err)
	}
	for end := time.Now().Add(10 * time.Second); ; time.Sleep(10 * time.Millisecond) {
		again, held, err := one.Alone(t.Context(), "tick/watch")
		if err != nil {
			t.Fatal(err)
		}
		if held {
			if err := again(t.Context()); err != nil {
				t.Fatal(err)
			}
			break
		}
		if time.Now().After(end) {
			t.Fatal("the lock outlived its connection")
		}
	}
	if err := unlock(t.Context()); err == nil {
		t.Error("a lock whose connection had ended was given back without a word")
	}
	// The broken connection is not used again.
	if _, held, err := two.Alone(t.Context(), "tick/watch"); err != nil || !held {
		t.Errorf("afterwards: held %v, %v", held, err)
	}
}
