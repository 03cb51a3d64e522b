package watch

import (
	"context"
	"time"

	"firn/bot/config"
	"firn/bot/reply"
	"firn/engine/ruleset"
)

// Clock tells the time; time.Now is one.
type Clock func() time.Time

// Settings are what a Watch is made of besides its ports. Zero durations and
// counts take the defaults.
type Settings struct {
	config.Alerts

	Duty     []config.Address // in the order of escalation
	Channels []config.Address // for a base that names none of its own
	Rules    *ruleset.Set     // for the corrections to expect; nil: none are shown
	Outside  ruleset.Step     // the configured rounding outside the final segment

	// Grace is how long a source that fails is asked again before the alert
	// says that there is no forecast. Default 10 min.
	Grace time.Duration
	// Lease is how long no other replica looks for a newer forecast of a base that
	// this one has looked for; shorter than the tick, so that the next one may be
	// anybody's. Default 45 s.
	Lease time.Duration
	// Limit is for the sources' answer for one base. Default 1 min.
	Limit time.Duration
	// Concurrency is how many bases are looked at at once. Default 8.
	Concurrency int
	// Holder names this replica for leases; it must not be another's.
	Holder string
	// Wrote is called after posts were written, such as the outbox's Kick;
	// nil for nobody.
	Wrote func()
	// Snoozed is told, after a snooze, of the alerts that it is about, by what
	// their keys begin with, and until when nobody is reminded; nil for nobody.
	Snoozed func(ctx context.Context, keys, text string)
	// Seen is told, after an acknowledgement, of whose alerts it is, by the base
	// and its local day, and what they are to say; nil for nobody.
	Seen func(ctx context.Context, ident, day, text string)
	// Edits says that posts to a channel can be changed, so that they show who
	// has seen them and nothing more is told there; nil: in none.
	Edits func(channel string) bool
	// Threads says that a post to a channel has a thread; nil: in none.
	Threads func(channel string) bool
	// Edit has a post to a channel show another reply; nil: none is changed.
	Edit func(ctx context.Context, channel, ref string, r reply.Reply) error
	// Usual gives a base's usual procedures; nil or none: corrections are
	// shown by height.
	Usual func(ident string) []reply.UsualProcedure
}

// SettingsOf takes from a configuration what it says of the watch.
func SettingsOf(cfg *config.Config, rules *ruleset.Set) Settings {
	s := Settings{Alerts: cfg.Alerts, Channels: cfg.Everywhere(), Rules: rules, Outside: ruleset.Step(cfg.Round)}
	for _, a := range cfg.Duty {
		if !a.Group() { // a group has rights, but nothing can be posted to one
			s.Duty = append(s.Duty, a)
		}
	}
	return s
}

func (s Settings) withDefaults() Settings {
	d := config.DefaultAlerts
	or(&s.Recheck, d.Recheck)
	or(&s.Repeat, d.Repeat)
	or(&s.Escalate, d.Escalate)
	or(&s.Step, d.Step)
	or(&s.Disagree, d.Disagree)
	or(&s.Kept, d.Kept)
	or(&s.Grace, 10*time.Minute)
	or(&s.Lease, 45*time.Second)
	or(&s.Limit, time.Minute)
	or(&s.Concurrency, 8)
	if s.Wrote == nil {
		s.Wrote = func() {}
	}
	if s.Snoozed == nil {
		s.Snoozed = func(context.Context, string, string) {}
	}
	if s.Seen == nil {
		s.Seen = func(context.Context, string, string, string) {}
	}
	if s.Edits == nil {
		s.Edits = func(string) bool { return false }
	}
	if s.Usual == nil {
		s.Usual = func(string) []reply.UsualProcedure { return nil }
	}
	return s
}

// or sets a figure that is missing or cannot be.
func or[T ~int | ~int64 | ~float64](v *T, other T) {
	if *v <= 0 {
		*v = other
	}
}
