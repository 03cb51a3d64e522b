// Package testclock has the clock that tests move.
package testclock

import (
	"context"
	"sync"
	"time"
)

// Clock stands still until a test moves it. Safe for use by several goroutines.
type Clock struct {
	mu sync.Mutex
	at time.Time
}

// New is one that stands at a time.
func New(at time.Time) *Clock { return &Clock{at: at} }

// Now is where it stands.
func (c *Clock) Now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.at
}

// Set has it stand at a time.
func (c *Clock) Set(at time.Time) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.at = at
}

// Pass moves it on.
func (c *Clock) Pass(d time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.at = c.at.Add(d)
}

// Sleep is a wait that is over at once, since it moves the clock on. The error is
// the context's.
func (c *Clock) Sleep(ctx context.Context, d time.Duration) error {
	c.Pass(d)
	return ctx.Err()
}
