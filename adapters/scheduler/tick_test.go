package scheduler_test

import (
	"bytes"
	"context"
	"errors"
	"log/slog"
	"strings"
	"sync"
	"testing"
	"time"

	"firn/adapters/scheduler"
)

// locks are a store's, in memory.
type locks struct {
	mu   sync.Mutex
	has  map[string]bool
	fail error
}

func (l *locks) Alone(_ context.Context, name string) (func(context.Context) error, bool, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.fail != nil || l.has[name] {
		return nil, false, l.fail
	}
	l.has[name] = true
	return func(context.Context) error { l.free(name); return nil }, true, nil
}

func (l *locks) free(name string) {
	l.mu.Lock()
	defer l.mu.Unlock()
	delete(l.has, name)
}

func (l *locks) held(name string) bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.has[name]
}

func log() *slog.Logger { return slog.New(slog.DiscardHandler) }

func TestCallsAtOnceUnderALock(t *testing.T) {
	l := &locks{has: map[string]bool{}}
	called := make(chan bool, 8)
	tk, err := scheduler.Start(t.Context(), log(), l, "watch", time.Hour, func(context.Context) { called <- l.held("tick/watch") })
	if err != nil {
		t.Fatal(err)
	}
	if held := <-called; !held {
		t.Error("called without the lock tick/watch")
	}
	if err := tk.Close(); err != nil {
		t.Fatal(err)
	}
	if l.held("tick/watch") {
		t.Error("the lock is held after Close")
	}
}

// TestAnotherReplicaHasIt: it is waited for, which is said once; then each call has
// the lock and gives it back.
func TestAnotherReplicaHasIt(t *testing.T) {
	l := &locks{has: map[string]bool{"tick/watch": true}}
	var told bytes.Buffer
	called := make(chan bool, 64)
	tk, err := scheduler.Start(t.Context(), slog.New(slog.NewTextHandler(&told, nil)), l, "watch", 20*time.Millisecond, func(context.Context) { called <- l.held("tick/watch") })
	if err != nil {
		t.Fatal(err)
	}
	select {
	case <-called:
		t.Error("called while another has the lock")
	case <-time.After(150 * time.Millisecond):
	}
	l.free("tick/watch")
	for range 2 { // its turn has come
		if locked := <-called; !locked {
			t.Error("called without the lock")
		}
	}
	if err := tk.Close(); err != nil {
		t.Fatal(err)
	}
	if got := told.String(); strings.Count(got, "\n") != 1 || !strings.Contains(got, `msg="another replica makes this round now" round=watch tried_again_in=20ms`) {
		t.Errorf("logged %q, want one line on the other replica", got)
	}
}

func TestAStoreThatFailsIsNoCall(t *testing.T) {
	l := &locks{fail: errors.New("store is away")}
	tk, err := scheduler.Start(t.Context(), log(), l, "watch", 20*time.Millisecond, func(context.Context) { t.Error("called without a lock") })
	if err != nil {
		t.Fatal(err)
	}
	if err := tk.Close(); err != nil {
		t.Fatal(err)
	}
}

// TestCloseWaits: a call under way is finished before Close returns.
func TestCloseWaits(t *testing.T) {
	l := &locks{has: map[string]bool{}}
	started, finish := make(chan struct{}), make(chan struct{})
	var mu sync.Mutex
	done := false
	tk, err := scheduler.Start(t.Context(), log(), l, "watch", time.Hour, func(context.Context) {
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
