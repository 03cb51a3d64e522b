package outbox

import (
	"sync"
	"time"
)

// failing is the failures in a row after which a surface is taken to be down.
// Fewer may be one channel's trouble.
const failing = 3

// longestOpen bounds for how long one channel's trouble, taken for its
// surface's, can keep the other channels waiting; one post in so long is no
// burden on a service that is down.
const longestOpen = 30 * time.Second

// circuitBreaker is one surface's share of the work. Each surface has its own, so
// that one that hangs keeps no other waiting.
type circuitBreaker struct {
	sender Sender
	room   chan struct{} // holds a token for each post under way

	mu        sync.Mutex
	fails     int       // in a row, over all its channels
	openUntil time.Time // until when nothing is tried, when failing
	halfOpen  bool      // one post finds out whether it is up again
	asked     map[string]time.Time
}

func newBreaker(s Sender, concurrency int) *circuitBreaker {
	return &circuitBreaker{sender: s, room: make(chan struct{}, concurrency), asked: map[string]time.Time{}}
}

// admit says whether a post to the channel may be tried now, and if not, when
// to come again. After a yes one of ended's must follow.
func (b *circuitBreaker) admit(channel string, now time.Time, pause time.Duration) (again time.Time, ok bool) {
	b.mu.Lock()
	defer b.mu.Unlock()
	if until, held := b.asked[channel]; held {
		if now.Before(until) {
			return until, false
		}
		delete(b.asked, channel)
	}
	if b.fails < failing {
		return time.Time{}, true
	}
	if now.Before(b.openUntil) {
		return b.openUntil, false
	}
	if b.halfOpen {
		return now.Add(pause), false
	}
	b.halfOpen = true
	return time.Time{}, true
}

// answered: the surface is up, whatever it said. A channel for which it asked
// to be left alone is.
func (b *circuitBreaker) answered(channel string, until time.Time) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.fails, b.halfOpen = 0, false
	if !until.IsZero() {
		b.asked[channel] = until
	}
}

// failed: no proper answer. backoff gives the rest from the number of
// failures beyond the first few.
func (b *circuitBreaker) failed(now time.Time, backoff func(int) time.Duration) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.fails++
	b.halfOpen = false
	if b.fails >= failing {
		// Several posts were under way when it went down; together they are
		// one failure, not several.
		if !now.Before(b.openUntil) {
			b.openUntil = now.Add(min(backoff(b.fails-failing+1), longestOpen))
		}
	}
}

// interrupted: nothing was learnt.
func (b *circuitBreaker) interrupted() {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.halfOpen = false
}
