package bot

import (
	"context"
	"log/slog"
	"sync"
	"time"
)

// The figures of a Behind are ours: at a thousand answers a second four
// seconds of them wait at most, and a store that fails is tried for a while.
const (
	behindMost  = 4096
	behindBatch = 256
	behindTries = 5
	behindPause = 50 * time.Millisecond // in which more come, for one transaction
)

// Behind keeps results a moment after they were given, many in one
// transaction, so that nobody waits for the disk. What a crash can cost is the
// record of the last few answers, never an answer. When the store cannot keep
// up, answers wait for it. Close writes what is left.
type Behind struct {
	log   *slog.Logger
	store Results
	queue chan Result
	pause time.Duration // between two tries

	mu     sync.RWMutex
	closed bool
	done   chan struct{}
}

// NewBehind starts keeping results in a store.
func NewBehind(log *slog.Logger, store Results) *Behind {
	b := &Behind{log: log, store: store, queue: make(chan Result, behindMost), pause: time.Second, done: make(chan struct{})}
	go b.run()
	return b
}

// SaveResult takes a result. The error is the context's, or that of a Behind
// that is closed.
func (b *Behind) SaveResult(ctx context.Context, r Result) (fresh bool, err error) {
	b.mu.RLock()
	defer b.mu.RUnlock()
	if b.closed {
		return b.store.SaveResult(ctx, r)
	}
	select {
	case b.queue <- r:
		return true, nil
	case <-ctx.Done():
		return false, ctx.Err()
	}
}

// SaveResults takes several.
func (b *Behind) SaveResults(ctx context.Context, all []Result) (fresh int, err error) {
	for _, r := range all {
		if _, err := b.SaveResult(ctx, r); err != nil {
			return fresh, err
		}
		fresh++
	}
	return fresh, nil
}

// Close writes what was taken and ends.
func (b *Behind) Close() {
	b.mu.Lock()
	if !b.closed {
		b.closed = true
		close(b.queue)
	}
	b.mu.Unlock()
	<-b.done
}

func (b *Behind) run() {
	defer close(b.done)
	for first := range b.queue {
		batch := append(make([]Result, 0, behindBatch), first)
		full := time.After(behindPause)
	more:
		for len(batch) < behindBatch {
			select {
			case r, open := <-b.queue:
				if !open {
					break more
				}
				batch = append(batch, r)
			case <-full:
				break more
			}
		}
		b.write(batch)
	}
}

// write keeps a batch; one that the store refuses is tried one by one, so
// that a single bad result costs no other.
func (b *Behind) write(batch []Result) {
	ctx := context.Background() // the answers were given; nobody waits any more
	var err error
	for try := range behindTries {
		if try > 0 {
			time.Sleep(b.pause)
		}
		if _, err = b.store.SaveResults(ctx, batch); err == nil {
			return
		}
		b.log.WarnContext(ctx, "results not kept yet", "results", len(batch), "err", err)
	}
	for _, r := range batch {
		if _, err := b.store.SaveResult(ctx, r); err != nil {
			b.log.ErrorContext(ctx, "result not kept", "surface", r.Surface, "message", r.ID, "err", err)
		}
	}
}
