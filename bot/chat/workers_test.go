package chat_test

import (
	"sync"
	"sync/atomic"
	"testing"
	"testing/synctest"

	"firn/bot/chat"
)

// TestWorkers: whoever is done takes what comes next, many things go on at once,
// and what is begun by one is waited for too.
func TestWorkers(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var w chat.Workers
		var done, begun atomic.Int32
		one := func() {
			w.Go(func() { done.Add(1) })
			synctest.Wait()
		}
		for range 3 {
			one()
		}
		if done.Load() != 3 {
			t.Fatalf("%d are done, want 3", done.Load())
		}
		let := make(chan struct{})
		for range 100 {
			w.Go(func() {
				begun.Add(1)
				<-let
				w.Go(func() { done.Add(1) })
			})
		}
		synctest.Wait()
		if begun.Load() != 100 {
			t.Errorf("%d go on at once, want 100", begun.Load())
		}
		close(let)
		w.Wait()
		if done.Load() != 103 {
			t.Errorf("%d are done, want 103", done.Load())
		}
		w.Go(func() { done.Add(1) }) // and again
		w.Wait()
		if done.Load() != 104 {
			t.Errorf("%d are done, want 104", done.Load())
		}
	})
}

// deep uses as much of the stack as an answer does.
func deep(n int) int {
	var frame [512]byte
	for i := range frame {
		frame[i] = byte(n + i)
	}
	if n == 0 {
		return int(frame[7])
	}
	return deep(n-1) + int(frame[n%512])
}

func BenchmarkWorkers(b *testing.B) {
	var sum atomic.Int64
	for name, begin := range map[string]func(func()){"a goroutine each": func(do func()) { go do() }, "workers": new(chat.Workers).Go} {
		b.Run(name, func(b *testing.B) {
			var wg sync.WaitGroup
			for b.Loop() {
				wg.Add(1)
				begin(func() { defer wg.Done(); sum.Add(int64(deep(32))) })
				wg.Wait()
			}
		})
	}
}
