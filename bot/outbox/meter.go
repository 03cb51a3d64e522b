package outbox

import (
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
