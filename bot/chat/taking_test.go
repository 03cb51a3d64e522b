package chat_test

import (
	"context"
	"errors"
	"log/slog"
	"slices"
	"sync"
	"testing"
	"time"

	"firn/bot/chat"
)

// table is a table of leases that notes what is taken, or fails.
type table struct {
	held map[string]string
	took map[string]time.Duration
	fail error
}

func (l *table) Lease(_ context.Context, name, holder string, d time.Duration) (bool, error) {
	if l.fail != nil {
		return false, l.fail
	}
	if by, ok := l.held[name]; ok && by != holder {
		return false, nil
	}
	l.held[name], l.took[name] = holder, d
	return true, nil
}

// writer is a record that is written, or is not.
type writer struct {
	err   error
	mu    sync.Mutex
	heard []bool
}

func (w *writer) Heard(there bool) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.heard = append(w.heard, there)
}

func (w *writer) Written(context.Context) error { return w.err }

// TestTaking: an event is one process's while it is answered, and for good once
// its record is written.
func TestTaking(t *testing.T) {
	log := slog.New(slog.DiscardHandler)
	store, record := &table{held: map[string]string{}, took: map[string]time.Duration{}}, &writer{}
	var mine, other chat.Settings
	for holder, set := range map[string]*chat.Settings{"a": &mine, "b": &other} {
		chat.Taking{Log: log, Leases: store, Holder: holder, Records: record}.Use(set)
	}
	const id = "slack/1"
	if first, err := mine.Once(t.Context(), id); !first || err != nil {
		t.Fatal(first, err)
	}
	if first, err := other.Once(t.Context(), id); first || err != nil {
		t.Errorf("the other has it too: %v, %v", first, err)
	}
	if got := store.took["event/"+id]; got >= mine.Hold || got < mine.Hold-2*time.Second {
		t.Errorf("it is held for %v of %v", got, mine.Hold)
	}
	record.err = errors.New("not yet")
	mine.Done(t.Context(), id)
	if got := store.took["event/"+id]; got >= mine.Hold {
		t.Errorf("what is not written is done for %v", got)
	}
	record.err = nil
	mine.Done(t.Context(), id)
	if got := store.took["event/"+id]; got != chat.EventLease {
		t.Errorf("what is written is done for %v", got)
	}
	store.fail = errors.New("the store does not answer")
	if _, err := mine.Once(t.Context(), "slack/2"); err == nil {
		t.Error("a store that does not answer says whose a message is")
	}
	mine.Gone()
	if want := []bool{true, true, false}; !slices.Equal(record.heard, want) {
		t.Errorf("the record heard %v, want %v", record.heard, want)
	}
	var alone chat.Settings
	chat.Taking{Log: log, Holder: "a", Records: record}.Use(&alone)
	if alone.Once != nil || alone.Hold != 0 {
		t.Error("a process that is alone asks whose a message is")
	}
	alone.Done(t.Context(), id)
}
