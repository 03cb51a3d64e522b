package app

import (
	"context"
	"log/slog"
	"time"

	"firn/bot/access"
	"firn/bot/approach"
	"firn/bot/bases"
	"firn/bot/chat"
	"firn/bot/config"
	"firn/bot/drawing"
	"firn/bot/outbox"
	"firn/bot/pagestate"
	"firn/bot/record"
	"firn/bot/reply"
	"firn/bot/watch"
	"firn/bot/weather"
	"firn/engine/ruleset"
)

// Store is what the work is kept in, whichever database it is.
type Store interface {
	watch.Store
	chat.Roll
	outbox.Queue
	outbox.Adder
	outbox.Lister
	weather.Archive
	weather.Past
	approach.Store
	record.Store
	access.Store
	bases.Store
	pagestate.Store
	pagestate.Feed
}

// shared is a store that several processes have; it tells its own time.
type shared interface {
	Now(ctx context.Context) (time.Time, error)
}

// sole is a Store that one process serves from at most, and that sees at once
// whether it does; known is false where it cannot.
type sole interface {
	Served() (is, known bool)
}

// Surface is where people ask and alerts are posted: a chat service or the page.
type Surface interface {
	chat.Surface
	outbox.Sender
	// Run hands t what people do until the context ends.
	Run(ctx context.Context, t chat.Handler) error
	// State is nil while the surface is connected.
	State() error
}

// Page is the crew-room page, which shows more than answers.
type Page interface {
	Surface
	Show(all []reply.Cold, at time.Time) // the bases' states
	Changed(pagestate.Change)            // open pages are brought up to date
	Refused() map[string]int64           // tries to come in, by why they were refused
}

// Artist draws.
type Artist interface {
	Draw(ctx context.Context, d drawing.Drawing) (chat.Picture, error)
	PDF(ctx context.Context, k drawing.Kneeboard) ([]byte, error)
}

// The outcomes of a message.
const (
	Answered = "answered"
	Question = "question" // the message needs fixing
	Failed   = "error"
)

// Meter is told what happens. It goes on when the configuration is read again.
type Meter interface {
	outbox.Meter
	// Answered is told of each message; outcome is one of the three above, took
	// how long the answer took to make.
	Answered(surface, outcome string, took time.Duration)
	// NotKept is told of each result that was shown and could not be kept.
	NotKept()
}

// Schedule calls fn at once and then after every interval, on one replica at a
// time, until stop is called or ctx ends. stop waits for a call under way.
type Schedule func(ctx context.Context, name string, every time.Duration, fn func(context.Context)) (stop func() error, err error)

// Pace is how fast the work goes; what is zero is as people run it.
type Pace struct {
	Tick      time.Duration // between two rounds; a minute
	Beat      time.Duration // between two signs of life in the store
	Live      time.Duration // between two signs of life to an open page
	BaseLease time.Duration // of the watch, on a base
	PostLease time.Duration // of the outbox, on a post
	Poll      time.Duration // of the outbox
	Backoff   time.Duration // the longest pause between two attempts at a post
	Hold      time.Duration // how long an event is this process's own
	Limit     time.Duration // for one answer
	// Posts is the outbox's clock, nil for the one that all have: leases and
	// attempts are measured by it, which a clock that runs fast would end.
	Posts func() time.Time
}

// Parts are what an App is made of.
type Parts struct {
	Log    *slog.Logger
	Now    func() time.Time
	Config *config.Config
	Name   string         // of the configuration, for errors
	Digest string         // of its text, the charts and the airports: what is changed has another
	Edited time.Time      // when the latest of them was written; zero: not known
	Rules  []*ruleset.Set // the built-in ones and the operator's

	Store  Store  // nil: nothing is kept, posted or checked
	Where  string // the store, for people
	Holder string // this process among the replicas

	Sources []weather.Source // in the order in which they are asked; an io.Closer is closed
	Charts  Charts

	// Surfaces are the chat services. Page makes the page, of what the App
	// offers it; nil: there is none.
	Surfaces []Surface
	Page     func(a *App) (Page, error)
	Homes    map[string]string        // of a surface: the workspace or server that there are answers in
	Senders  map[string]outbox.Sender // where alerts are posted besides, or in the place of a surface of that name
	// Wanting says what a surface needs that is not set up.
	Wanting func(on config.Surface) string
	Artist  Artist // nil: there are no pictures
	SignIn  bool   // people come in to the page by links

	Meter    Meter
	Schedule Schedule
	Jitter   func() float64 // numbers from 0 to 1, others in each process
	Pace     Pace

	// Before is what serves already and is gone on from: its conversations and
	// figures. nil: nothing does.
	Before *App
}

// Charts are the procedures that were typed from charts.
type Charts struct {
	Typed  []approach.Approach
	Unread []approach.Unread // files that could not be used
	Left   []error           // why, as long as Unread
	Others []string          // stations of files that the configuration does not have
}
