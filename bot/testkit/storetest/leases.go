package storetest

import (
	"fmt"
	"sync"
	"sync/atomic"
	"testing"
	"time"
)

func leaseExclusive(t *testing.T, s Store) {
	ctx := t.Context()
	mustHold(t, "a", true)(s.Lease(ctx, "base/XKLD", "a", long))
	mustHold(t, "b beside a", false)(s.Lease(ctx, "base/XKLD", "b", long))
	mustHold(t, "b, another name", true)(s.Lease(ctx, "base/XKLE", "b", long))
	mustHold(t, "a still", true)(s.Lease(ctx, "base/XKLD", "a", long))
}

func leaseExtend(t *testing.T, s Store) {
	ctx := t.Context()
	mustHold(t, "a, short", true)(s.Lease(ctx, "n", "a", short))
	mustHold(t, "a, extended", true)(s.Lease(ctx, "n", "a", long))
	time.Sleep(2 * short)
	mustHold(t, "b after the first length", false)(s.Lease(ctx, "n", "b", long))
	// The last length holds when it is the shorter one too.
	mustHold(t, "a, shortened", true)(s.Lease(ctx, "n", "a", short))
	soon(t, "the shortened lease ends", func() bool {
		held, err := s.Lease(ctx, "n", "b", long)
		if err != nil {
			t.Fatal(err)
		}
		return held
	})
}

func leaseExpires(t *testing.T, s Store) {
	ctx := t.Context()
	start := time.Now()
	mustHold(t, "a", true)(s.Lease(ctx, "n", "a", short))
	soon(t, "the lease ends", func() bool {
		held, err := s.Lease(ctx, "n", "b", long)
		if err != nil {
			t.Fatal(err)
		}
		return held
	})
	if took := time.Since(start); took < short-time.Millisecond {
		t.Errorf("a lease of %v ended after %v", short, took)
	}
	mustHold(t, "a after b took it", false)(s.Lease(ctx, "n", "a", long))
}

func leaseHeld(t *testing.T, s Store) {
	ctx := t.Context()
	mustHold(t, "a", true)(s.Lease(ctx, "serve/0", "a", long))
	mustHold(t, "b", true)(s.Lease(ctx, "serve/2", "b", 0))
	mustHold(t, "another name", true)(s.Lease(ctx, "serve/10", "c", long))
	all, err := s.Held(ctx, "serve/2", "serve/1", "serve/0")
	if err != nil || len(all) != 2 {
		t.Fatalf("Held: %+v, %v; want two", all, err)
	}
	if h := all[0]; h.Name != "serve/0" || h.Holder != "a" || h.Left <= 0 || h.Left > long {
		t.Errorf("Held: %+v, want that a has it for up to %v", h, long)
	}
	if h := all[1]; h.Name != "serve/2" || h.Holder != "b" || h.Left > 0 || h.Left < -long {
		t.Errorf("Held: %+v, want that b had it", h)
	}
	if all, err := s.Held(ctx); err != nil || len(all) != 0 {
		t.Errorf("of no names: %+v, %v", all, err)
	}
}

func leaseRelease(t *testing.T, s Store) {
	ctx := t.Context()
	release := func(name, holder string) {
		t.Helper()
		if err := s.Release(ctx, name, holder); err != nil {
			t.Errorf("Release(%s, %s): %v", name, holder, err)
		}
	}
	release("n", "a") // nobody has it
	mustHold(t, "a", true)(s.Lease(ctx, "n", "a", long))
	release("n", "b")
	release("other", "a")
	mustHold(t, "b after its own release", false)(s.Lease(ctx, "n", "b", long))
	release("n", "a")
	mustHold(t, "b after a's release", true)(s.Lease(ctx, "n", "b", long))
	release("n", "a") // a comes late
	mustHold(t, "c after a's late release", false)(s.Lease(ctx, "n", "c", long))
}

func leaseRace(t *testing.T, s Store) {
	for round := range 5 {
		name := fmt.Sprintf("round %d", round)
		var held atomic.Int32
		var wg sync.WaitGroup
		for w := range 8 {
			wg.Go(func() {
				ok, err := s.Lease(t.Context(), name, fmt.Sprint(w), long)
				if err != nil {
					t.Errorf("Lease: %v", err)
				}
				if ok {
					held.Add(1)
				}
			})
		}
		wg.Wait()
		if n := held.Load(); n != 1 {
			t.Errorf("%s has %d holders, want 1", name, n)
		}
	}
}
