package chat

import (
	"context"
	"time"

	"firn/bot"
	"firn/bot/reply"
)

// Answerer answers messages; *bot.Bot is one.
type Answerer interface {
	Handle(ctx context.Context, m bot.Message) (reply.Reply, error)
}

// Offerer is an Answerer that has more than stations to offer while somebody
// types; *bot.Bot is one.
type Offerer interface {
	OfferProcedures(ctx context.Context, station, typed string, n int) ([]bot.Offer, error)
	OfferRecords(ctx context.Context, m bot.Message, toCheck bool, typed string, n int) ([]bot.Offer, error)
}

// Homer is an Answerer that reads what front pages show once for all of them, and
// gives then what a message that asks for one's own is answered; *bot.Bot is one.
type Homer interface {
	Homes(ctx context.Context, at time.Time) (bot.HomeOf, error)
}

// Stations finds those that somebody may mean.
type Stations interface {
	// Find gives those whose ident or name fits what was typed so far, best
	// first, at most limit; with nothing typed, the first ones. Value is the
	// ident.
	Find(typed string, limit int) []bot.Offer
}

// Where a surface is answered. Direct messages always are, unless they come
// from another home.
type Where struct {
	Home     string   // the workspace or server; empty: any, since channel ids are unique
	Channels []string // ids; none: direct messages alone
}

// Settings are the dispatcher's. The zero value answers direct messages.
type Settings struct {
	// Where says by surface name in which channels there are answers.
	Where map[string]Where

	// Duty are the addresses of the duty officers: slack:U1, a Slack user group
	// as slack:S1, discord:123, a Discord role as discord:role:456. Empty:
	// whoever may ask may do what duty officers do.
	Duty []string
	// DutyNames are names for these addresses where they are known, for the
	// sentence that says who may.
	DutyNames map[string]string

	// Stations are offered in forms; nil: none are.
	Stations Stations
	// Named is the ident of the station that a message names, as a message is read;
	// empty where it names none. nil: forms open empty.
	Named func(text string) string
	// Problem reads a line as a message alone, without remembering it, and says
	// what is wrong with it; nil when there is nothing. It looks nothing up
	// outside the process. nil: forms are looked at only roughly.
	Problem func(line string) *reply.Problem
	// Shown is told which card shows a reply, so that the card can be changed
	// when the reply holds no longer; again says that another stood there
	// before. nil: nobody is told.
	Shown func(ctx context.Context, surface string, ref Ref, r reply.Reply, again bool)
	// Deleted is told that the message of an event is gone. nil: nobody is told.
	Deleted func(ctx context.Context, surface, event string) error
	// Unasked is told that the question of a card was edited into talk; found says
	// that the card shows a record, and is changed by whoever keeps it. nil: nobody is
	// told.
	Unasked func(ctx context.Context, surface string, ref Ref) (found bool, err error)
	// On is the reply that a card shows now, where it is kept. nil: none is.
	On func(ctx context.Context, surface string, ref Ref) (r reply.Reply, found bool, err error)
	// Pictures draws what is shown with a reply; nil: nothing is.
	Pictures func(ctx context.Context, r reply.Reply) Drawn

	// Once says whether this process is the first to take an event, where
	// several may get it; it is this one's for Hold. nil: this process is alone.
	Once func(ctx context.Context, id string) (first bool, err error)
	// Turn says where Once does not which of the processes this one is for an
	// event: 0, its owner, takes it at once, the others one after the other if
	// it has not. nil: this process is every event's owner.
	Turn func(id string) int
	// Gone is told that Once did not say in time whose an event is: what is
	// answered now may not be kept. nil: nobody is told.
	Gone func()
	// Done is told when an event was answered, so that no process takes it
	// again. It may wait until what was answered is kept; the service is told
	// afterwards that the event has come. nil: nobody is told.
	Done func(ctx context.Context, id string)
	// Hold is how long Once keeps an event for the process that took it. It
	// must be longer than Limit. A message that is not done by then, since
	// that process died, is taken by another that got it too. Zero: none is.
	Hold time.Duration

	// A person may ask Burst times at once and once more after each Every.
	Burst int           // default 8
	Every time.Duration // default 3 s

	// Fronts are the front pages that are open; nil: none yet.
	Fronts *Fronts

	// AtWork is how many answers are worked out at once (default 64), Waiting
	// how many events may wait for their turn (default 4096).
	AtWork, Waiting int
	// Limit is the longest that an event may take (default 25 s).
	Limit time.Duration
}

// Drawn is what is shown with a reply.
type Drawn struct {
	Pictures []Picture
	Files    []File
	// Missing says to people why what they asked for is not there; empty: it is,
	// or nothing was asked for.
	Missing string
}

// withDefaults fills in what is not set. The figures are ours: a crew asks a few times in a minute, and
// after half a minute it has looked the correction up.
func (s Settings) withDefaults() Settings {
	if s.Burst <= 0 {
		s.Burst = 8
	}
	if s.Every <= 0 {
		s.Every = 3 * time.Second
	}
	if s.AtWork <= 0 {
		s.AtWork = 64
	}
	if s.Waiting <= 0 {
		s.Waiting = 4096
	}
	if s.Fronts == nil {
		s.Fronts = NewFronts()
	}
	if s.Limit <= 0 {
		s.Limit = 25 * time.Second
	}
	return s
}
