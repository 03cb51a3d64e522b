package outbox

import (
	"context"
	"math"
	"time"
)

// Settings are the figures of an Outbox. A zero takes the default.
type Settings struct {
	// Lease is how long a claim is this process's own. An attempt begins in
	// its first third and is cut off a third later, so that a third is left
	// for a request that is still under way, and for the mark. Default 60 s:
	// 20 s for a chat service that answers slowly, and no more than a minute
	// until another process takes over from one that died.
	Lease time.Duration
	// Batch is how many items one claim takes. Default 32.
	Batch int
	// Outstanding bounds the items under a lease in this process. Default
	// 256: more than a morning's alerts, so that those of a surface that
	// hangs leave room for the others.
	Outstanding int
	// Concurrency is how many posts go to one surface at once. Default 4.
	Concurrency int
	// Poll is how often the queue is looked at without a Kick. Default 2 s.
	Poll time.Duration
	// FirstBackoff is the pause after the first failure; it doubles with each
	// up to MaxBackoff. Defaults 1 s and 5 min: a service that was down for
	// an hour has its posts within five minutes of its return.
	FirstBackoff, MaxBackoff time.Duration
	// MaxRetryAfter bounds how long a service can ask to be left alone.
	// Default 1 h: a mistaken figure must not put an alert off for ever.
	MaxRetryAfter time.Duration
	// Jitter gives numbers in [0, 1) that spread the pauses; nil for none.
	Jitter func() float64
	// LateAfter is from when a post says that it is late. Default 5 min.
	LateAfter time.Duration
	// An item is given up when it has failed MaxAttempts times or more and
	// MaxAge has passed since it was due. Both must be true: with attempts
	// alone a service that fails fast would lose it within the hour, with age
	// alone a first attempt after a weekend off would be the last. Defaults
	// 100 and 24 h.
	MaxAttempts int
	MaxAge      time.Duration
	// Sent is told of a post that stands on its surface, before it is marked as
	// sent: after an error, or a crash, the post is found again and Sent told
	// once more. nil: nobody is told.
	Sent func(ctx context.Context, it Item, ref string) error
	// Root is the reference of a post that was sent, for those that stand in its
	// thread; empty: there is none. nil: nothing stands in a thread.
	Root func(ctx context.Context, channel, key string) (ref string, err error)
	// Meter is told what happens; nil for nobody.
	Meter Meter
}

func (s Settings) withDefaults() Settings {
	or(&s.Lease, time.Minute)
	or(&s.Batch, 32)
	or(&s.Outstanding, 256)
	s.Outstanding = max(s.Outstanding, s.Batch)
	or(&s.Concurrency, 4)
	or(&s.Poll, 2*time.Second)
	or(&s.FirstBackoff, time.Second)
	or(&s.MaxBackoff, 5*time.Minute)
	or(&s.MaxRetryAfter, time.Hour)
	or(&s.LateAfter, 5*time.Minute)
	or(&s.MaxAttempts, 100)
	or(&s.MaxAge, 24*time.Hour)
	if s.Jitter == nil {
		s.Jitter = func() float64 { return 0 }
	}
	if s.Meter == nil {
		s.Meter = nobody{}
	}
	return s
}

// or sets a figure that is missing or cannot be.
func or[T int | time.Duration](v *T, other T) {
	if *v <= 0 {
		*v = other
	}
}

// third is the part of the lease in which an attempt begins, and as long
// again the most it may take.
func (s *Settings) third() time.Duration { return s.Lease / 3 }

// backoff is the pause after the nth failure in a row: doubled each time,
// capped, and shortened by up to half by the jitter.
func (s *Settings) backoff(n int) time.Duration {
	d := float64(s.FirstBackoff) * math.Pow(2, float64(min(max(n, 1), 64)-1))
	d = min(d, float64(s.MaxBackoff))
	return time.Duration(d * (1 - s.Jitter()/2))
}

// asked is the pause that a service asked for: never shorter, spread by up to
// a tenth.
func (s *Settings) asked(d time.Duration) time.Duration {
	d = min(d, s.MaxRetryAfter)
	return d + time.Duration(float64(d)*s.Jitter()/10)
}
