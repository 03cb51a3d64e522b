package watch

import (
	"context"
	"time"

	"firn/bot/outbox"
	"firn/bot/weather"
	"firn/engine/coldwatch"
)

// Kind is what an alert is about.
type Kind string

// The kinds.
const (
	Opened    Kind = "opened"    // the morning's word on a base, whatever its state
	Amended   Kind = "amended"   // a newer forecast crosses the line or moves by more than the step
	Repeated  Kind = "repeated"  // nobody has acknowledged
	Escalated Kind = "escalated" // still nobody: to the people on duty
	AllClear  Kind = "all-clear" // the cold is over
	Ended     Kind = "ended"     // the window is, and the cold is not, or nobody knows
)

// Alert is one word on one base on one local day. Base, Day and Seq name it
// for ever.
type Alert struct {
	Base      string
	Day       string // local, 2026-01-15
	Seq       int    // 1 opens
	Kind      Kind
	Judgement coldwatch.Judgement
	Made      time.Time
}

// Ack is somebody's acknowledgement of a base's day up to an alert.
type Ack struct {
	Base, Day string
	Seq       int // the last alert that the person had seen
	By        string
	At        time.Time
}

// Day is all that is known of a base's day.
type Day struct {
	Alerts       []Alert // in order of Seq
	Acks         []Ack   // in order of time
	SnoozedUntil time.Time
}

// Forecaster has the forecasts of a station, one a source, in the configured
// order; weather.Chain is one. The error is weather.ErrNone when every source
// works and has nothing, anything else when one failed, also beside forecasts
// of others.
type Forecaster interface {
	Forecasts(ctx context.Context, ident string) ([]weather.Forecast, error)
}

// Aged is a Store that knows when it was made: what was due before that nobody
// has missed, and nothing is late by more than since then.
type Aged interface {
	Born(ctx context.Context) (time.Time, error)
}

// Store is what the watch keeps.
type Store interface {
	// Open writes an alert and its posts in one transaction. fresh is false,
	// and nothing is written, when the alert is there already.
	Open(ctx context.Context, a Alert, posts []outbox.Item) (fresh bool, err error)
	Day(ctx context.Context, base, day string) (Day, error)
	// Acknowledge is fresh once for a base, day, seq and person; the posts that
	// tell it are written in the same transaction.
	Acknowledge(ctx context.Context, a Ack, posts []outbox.Item) (fresh bool, err error)
	Snooze(ctx context.Context, base, day string, until time.Time, by string) error
	// Lease takes a name for a while, by the store's own clock; held is false
	// while another holder has it. Taking it again extends it.
	Lease(ctx context.Context, name, holder string, d time.Duration) (held bool, err error)
	// Held are those of the names that somebody has, or had last.
	Held(ctx context.Context, names ...string) ([]Held, error)
}

// Held is a name that somebody has, or had last.
type Held struct {
	Name, Holder string
	Left         time.Duration // by the store's own clock; not above zero: it ended so long ago
}
