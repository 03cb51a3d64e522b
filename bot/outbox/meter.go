package outbox

import (
	"maps"
	"sync"
	"time"
)

// Outcome is how an attempt ended.
type Outcome string

// The outcomes.
const (
	Sent    Outcome = "sent"     // posted
	Found   Outcome = "found"    // stood there already, from an attempt whose end nobody saw
	Retried Outcome = "retried"  // failed, to be tried again
	Waited  Outcome = "waited"   // not tried: its surface rests, or there was no time
	GaveUp  Outcome = "given_up" // ended without success
	Lost    Outcome = "lost"     // the lease was lost before the mark
	Failed  Outcome = "unmarked" // the queue did not take the mark
)

// Meter is told of every attempt's end. lag is how long after its due time.
// It is called from several goroutines.
type Meter interface {
	Attempt(surface string, o Outcome, lag time.Duration)
}

type nobody struct{}

func (nobody) Attempt(string, Outcome, time.Duration) {}

// Counters is a Meter that counts.
type Counters struct {
	mu  sync.Mutex
	all map[Counted]int
}

// Counted is one counter's label.
type Counted struct {
	Surface string
	Outcome Outcome
}

// Attempt counts.
func (c *Counters) Attempt(surface string, o Outcome, _ time.Duration) {
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
func (c *Counters) Total(o Outcome) int {
	n := 0
	for k, v := range c.Snapshot() {
		if k.Outcome == o {
			n += v
		}
	}
	return n
}
