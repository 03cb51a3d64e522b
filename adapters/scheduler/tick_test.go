package scheduler_test

import (
	"context"
	"errors"
	"log/slog"
	"sync"
	"testing"
	"time"

	"firn/adapters/scheduler"
)

// leases is a lease table in memory that notes who asked.
type leases struct {
	mu    sync.Mutex
	by    map[string]string
	taken int
	fail  error
}

func (l *leases) Lease(_ context.Context, name, holder string, _ time.Duration) (bool, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.fail != nil {
		return false, l.fail
	}
	if have, ok := l.by[name]; ok && have != holder {
		return false, nil
	}
	l.by[name] = holder
	l.taken++
	return true, nil
}

func (l *leases) Release(_ context.Context, name, holder string) error {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.by[name] == holder {
		delete(l.by, name)
	}
	return nil
}

func (l *leases) held(name string) bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	_, ok := l.by[name]
	return ok
}

func log() *slog.Logger { return slog.New(slog.DiscardHandler) }

func TestCallsAtOnceUnderALease(t *testing.T) {
	l := &leases{by: map[string]string{}}
	called := make(chan bool, 8)
	tk, err := scheduler.Start(t.Context(), log(), l, "one", "watch", time.Hour, func(context.Context) { called <- l.held("tick/watch") })
	if err != nil {
		t.Fatal(err)
	}
	if held := <-called; !held {
		t.Error("called without the lease tick/watch")
	}
	if err := tk.Close(); err != nil {
		t.Fatal(err)
	}
	if l.held("tick/watch") {
		t.Error("the lease is held after Close")
	}
}

func TestAnotherReplicaHasIt(t *testing.T) {
	l := &leases{by: map[string]string{"tick/watch": "two"}}
	called := make(chan struct{}, 8)
	tk, err := scheduler.Start(t.Context(), log(), l, "one", "watch", 20*time.Millisecond, func(context.Context) { called <- struct{}{} })
	if err != nil {
		t.Fatal(err)
	}
	defer tk.Close()
	select {
	case <-called:
		t.Error("called while another holds the lease")
	case <-time.After(150 * time.Millisecond):
	}
	if err := l.Release(t.Context(), "tick/watch", "two"); err != nil {
		t.Fatal(err)
	}
	<-called // its turn has come
}

func TestAStoreThatFailsIsNoCall(t *testing.T) {
	l := &leases{by: map[string]string{}, fail: errors.New("store is away")}
	tk, err := scheduler.Start(t.Context(), log(), l, "one", "watch", 20*time.Millisecond, func(context.Context) { t.Error("called without a lease") })
	if err != nil {
		t.Fatal(err)
	}
	if err := tk.Close(); err != nil {
		t.Fatal(err)
	}
}

// TestCloseWaits: a call under way is finished before Close returns.
func TestCloseWaits(t *testing.T) {
	l := &leases{by: map[string]string{}}
	started, finish := make(chan struct{}), make(chan struct{})
	var mu sync.Mutex
	done := false
	tk, err := scheduler.Start(t.Context(), log(), l, "one", "watch", time.Hour, func(context.Context) {
		close(started)
		<-finish
		mu.Lock()
		done = true
		mu.Unlock()
	})
	if err != nil {
		t.Fatal(err)
	}
	<-started
	close(finish)
	if err := tk.Close(); err != nil {
		t.Fatal(err)
	}
	mu.Lock()
	defer mu.Unlock()
	if !done {
		t.Error("Close returned while the call was running")
	}
}

// sole is a store whose locks end with their holder.
type sole struct {
	leases
	locks chan struct{} // holds one while the lock is free
}

func (s *sole) Alone(context.Context, string) (func(context.Context) error, bool, error) {
	select {
	case <-s.locks:
		return func(context.Context) error { s.locks <- struct{}{}; return nil }, true, nil
	default:
		return nil, false, nil
	}
}

// TestLocksAreUsedWhereThereAre: no lease is taken then, one call has the lock
// at a time, and it is given back.
func TestLocksAreUsedWhereThereAre(t *testing.T) {
	s := &sole{leases: leases{by: map[string]string{}}, locks: make(chan struct{}, 1)}
	called := make(chan bool, 64)
	tk, err := scheduler.Start(t.Context(), log(), s, "one", "watch", 20*time.Millisecond, func(context.Context) { called <- len(s.locks) == 0 })
	if err != nil {
		t.Fatal(err)
	}
	select {
	case <-called:
		t.Error("called while another has the lock")
	case <-time.After(100 * time.Millisecond):
	}
	s.locks <- struct{}{}
	for range 2 {
		if locked := <-called; !locked {
			t.Error("called without the lock")
		}
	}
	if err := tk.Close(); err != nil {
		t.Fatal(err)
	}
	if len(s.locks) != 1 || s.taken != 0 {
		t.Errorf("%d locks free and %d leases taken, want 1 and 0", len(s.locks), s.taken)
	}
}
