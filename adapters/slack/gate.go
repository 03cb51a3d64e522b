package slack

import (
	"context"
	"sync"
	"time"
)

// gates remember where Slack has said that it is asked too often. Its limits
// are by method, and for messages by channel: a place that has to rest leaves
// the others alone.
type gates struct {
	now      func() time.Time
	pace     time.Duration // between two calls of one place that rested
	patience time.Duration // for calls without a deadline

	mu    sync.Mutex
	until map[string]time.Time
}

func newGates(now func() time.Time, pace, patience time.Duration) *gates {
	return &gates{now: now, pace: pace, patience: patience, until: map[string]time.Time{}}
}

// pass waits until a call to a place may go. Those that wait go one after the
// other, pace apart, so that they do not run into the limit together. When
// the context leaves no time for that it says how long it would take.
func (g *gates) pass(ctx context.Context, place string) (short time.Duration, err error) {
	g.mu.Lock()
	now := g.now()
	at, resting := g.until[place]
	if !resting || !at.After(now) {
		delete(g.until, place)
		g.mu.Unlock()
		return 0, nil
	}
	wait := at.Sub(now)
	if !g.leaves(ctx, wait) {
		g.mu.Unlock()
		return wait, nil
	}
	g.until[place] = at.Add(g.pace)
	g.mu.Unlock()
	return 0, sleep(ctx, wait)
}

// rest closes a place for a while, for those that come and those that wait.
func (g *gates) rest(place string, d time.Duration) {
	g.mu.Lock()
	defer g.mu.Unlock()
	if at := g.now().Add(d); at.After(g.until[place]) {
		g.until[place] = at
	}
	if len(g.until) > 1000 { // places of long ago
		for p, at := range g.until {
			if !at.After(g.now()) {
				delete(g.until, p)
			}
		}
	}
}

// leaves says whether a context leaves time for a wait.
func (g *gates) leaves(ctx context.Context, wait time.Duration) bool {
	if deadline, ok := ctx.Deadline(); ok {
		return time.Until(deadline) > wait
	}
	return wait <= g.patience
}

func sleep(ctx context.Context, d time.Duration) error {
	timer := time.NewTimer(d)
	defer timer.Stop()
	select {
	case <-timer.C:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}
