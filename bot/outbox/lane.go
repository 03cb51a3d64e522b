package outbox

import (
	"sync"
	"time"
)

// failing is the failures in a row after which a surface is taken to be down.
// Fewer may be one channel's trouble.
const failing = 3

// longestRest bounds for how long one channel's trouble, taken for its
// surface's, can keep the other channels waiting; one post in so long is no
// burden on a service that is down.
const longestRest = 30 * time.Second

// lane is one surface's share of the work. Each surface has its own, so that
// one that hangs keeps no other waiting.
type lane struct {
	sender Sender
	room   chan struct{} // holds a token for each post under way

	mu      sync.Mutex
	fails   int       // in a row, over all its channels
	rest    time.Time // until when nothing is tried, when failing
	probing bool      // one post finds out whether it is up again
	asked   map[string]time.Time
}

func newLane(s Sender, concurrency int) *lane {
	return &lane{sender: s, room: make(chan struct{}, concurrency), asked: map[string]time.Time{}}
}

// admit says whether a post to the channel may be tried now, and if not, when
// to come again. After a yes one of ended's must follow.
func (l *lane) admit(channel string, now time.Time, pause time.Duration) (again time.Time, ok bool) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if until, held := l.asked[channel]; held {
		if now.Before(until) {
			return until, false
		}
		delete(l.asked, channel)
	}
	if l.fails < failing {
		return time.Time{}, true
	}
	if now.Before(l.rest) {
		return l.rest, false
	}
	if l.probing {
		return now.Add(pause), false
	}
	l.probing = true
	return time.Time{}, true
}

// answered: the surface is up, whatever it said. A channel for which it asked
// to be left alone is.
func (l *lane) answered(channel string, until time.Time) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.fails, l.probing = 0, false
	if !until.IsZero() {
		l.asked[channel] = until
	}
}

// failed: no proper answer. backoff gives the rest from the number of
// failures beyond the first few.
func (l *lane) failed(now time.Time, backoff func(int) time.Duration) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.fails++
	l.probing = false
	if l.fails >= failing {
		// Several posts were under way when it went down; together they are
		// one failure, not several.
		if !now.Before(l.rest) {
			l.rest = now.Add(min(backoff(l.fails-failing+1), longestRest))
		}
	}
}

// interrupted: nothing was learnt.
func (l *lane) interrupted() {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.probing = false
}
