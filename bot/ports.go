package bot

import (
	"context"
	"time"

	"firn/bot/approach"
	"firn/bot/bases"
	"firn/bot/watch"
	"firn/bot/weather"
)

// Ports are what a bot may be given besides its configuration. What is nil is
// not there, and a message that needs it is told so.
type Ports struct {
	Observer     Observer
	Watcher      Watcher
	Procedures   Procedures
	StoreShut    bool // no store is open, in which imported procedures would be
	Forecasts    Forecasts
	Pictures     bool // the surfaces can show some
	Observations Observations
	Bases        Bases // nil: no store keeps them
	Book         Book
	Threads      Threads
	Team         Team
}

// Observer gives the latest observation of a station. Its error is
// weather.ErrNone or weather.ErrStale where there is none to use.
type Observer interface {
	Observation(ctx context.Context, ident string) (weather.Reading, error)
}

// Unreader is a Procedures that may have left files out: own are those for a
// station, unknown those that may be.
type Unreader interface {
	Unread(ident string) (own, unknown []string)
}

// Procedures are the stored ones of a station; approach.Catalog has them.
type Procedures interface {
	Procedures(ctx context.Context, ident string) ([]approach.Approach, error)
}

// Watcher is the morning watch, as people talk to it.
type Watcher interface {
	Status(ctx context.Context, at time.Time) ([]watch.BaseStatus, error)
	Acknowledge(ctx context.Context, ident, by, from string) (watch.Outcome, error)
	Snooze(ctx context.Context, ident, by string, d time.Duration) (watch.Outcome, error)
	// AcknowledgeAll and SnoozeAll are of the bases that are named; where none are, of
	// all that a channel is told of.
	AcknowledgeAll(ctx context.Context, idents []string, by, from string) (watch.Outcome, error)
	SnoozeAll(ctx context.Context, idents []string, by, from string, d time.Duration) (watch.Outcome, error)
}

// Bases has fields watched that the configuration does not watch; bases.Keeper
// is one.
type Bases interface {
	Add(ctx context.Context, w bases.Wish) (bases.Outcome, error)
	Drop(ctx context.Context, w bases.Wish) (bases.Outcome, error)
}

// Observations keeps what a duty officer types.
type Observations interface {
	SaveObservation(ctx context.Context, o weather.Observation) (fresh bool, err error)
}

// Use gives the bot its ports. It must be called before the first message.
func (b *Bot) Use(p Ports) { b.ports = p }
