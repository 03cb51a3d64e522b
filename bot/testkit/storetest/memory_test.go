package storetest

import (
	"testing"
	"testing/synctest"
	"time"
)

func TestMemory(t *testing.T) {
	Run(t, func(*testing.T) Store { return NewMemory(time.Now) })
}

// TestMemoryClock has the memory's leases run by the clock that it is given.
func TestMemoryClock(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := NewMemory(time.Now)
		mustOpen(t, s, alert(1), post(alert(1), "page"))
		mustClaimOne(t, s, time.Minute)
		time.Sleep(time.Minute - 1)
		same(t, "a nanosecond early", keys(mustClaim(t, s, time.Minute, 1)), []string(nil))
		time.Sleep(time.Nanosecond)
		if c := mustClaimOne(t, s, time.Minute); c.Attempt != 2 {
			t.Errorf("attempt %d, want 2", c.Attempt)
		}
		mustHold(t, "a", true)(s.Lease(t.Context(), "n", "a", time.Minute))
		time.Sleep(time.Minute)
		mustHold(t, "b", true)(s.Lease(t.Context(), "n", "b", time.Minute))
	})
}

func BenchmarkMemory(b *testing.B) { Benchmark(b, NewMemory(time.Now)) }

func BenchmarkMemoryRecords(b *testing.B) { BenchmarkRecords(b, NewMemory(time.Now)) }

func TestMemoryBases(t *testing.T) {
	RunBases(t, func(*testing.T) BaseStore { return NewMemory(time.Now) })
}
