package sendertest

import (
	"maps"
	"sync"
	"time"

	"firn/bot/outbox"
)

// Counters is an outbox.Meter that counts.
type Counters struct {
	mu  sync.Mutex
	all map[Counted]int
}

// Counted is one counter's label.
type Counted struct {
	Surface string
	Outcome outbox.Outcome
}

// Attempt counts.
func (c *Counters) Attempt(surface string, o outbox.Outcome, _ time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.all == nil {
		c.all = map[Counted]int{}
	}
	c.all[Counted{surface, o}]++
}

// Snapshot is a copy of the counters.
func (c *Counters) Snapshot() map[Counted]int {
	c.mu.Lock()
	defer c.mu.Unlock()
	return maps.Clone(c.all)
}

// Total is the count of one outcome over all surfaces.
func (c *Counters) Total(o outbox.Outcome) int {
	n := 0
	for k, v := range c.Snapshot() {
		if k.Outcome == o {
			n += v
		}
	}
	return n
}
