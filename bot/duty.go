package bot

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"firn/bot/bases"
	"firn/bot/parse"
	"firn/bot/person"
	"firn/bot/reply"
	"firn/bot/watch"
	"firn/bot/weather"
)

// duty answers the verbs of the watch, or says what it needs.
func (b *Bot) duty(ctx context.Context, req parse.Request, m Message) (reply.Reply, error) {
	switch {
	case req.Verb == parse.Watch && b.ports.Watcher != nil:
		return b.cold(ctx, req, m.At)
	case req.Verb == parse.Watch:
		return b.ask(notHere(req.Verb)), nil
	case b.ports.Observations == nil, b.ports.Watcher == nil, req.Verb == parse.Base && b.ports.Bases == nil:
		return b.ask(notHere(req.Verb)), nil
	case !m.Duty:
		return reply.Refuse(reply.Problem{
			Word: req.Verb.String(),
			Text: fmt.Sprintf("“%s” is for the duty officers that the configuration names.", req.Verb),
			Try:  "watch",
		}), nil
	case req.Verb == parse.Acknowledge:
		return b.acknowledge(ctx, req, m)
	case req.Verb == parse.Snooze:
		return b.snooze(ctx, req, m)
	case req.Verb == parse.Base:
		return b.base(ctx, req, m)
	}
	return b.observe(ctx, req, m)
}

// cold is every base's state now, or that of the one which is asked about.
func (b *Bot) cold(ctx context.Context, req parse.Request, at time.Time) (reply.Reply, error) {
	all, err := b.bases(ctx, at)
	if err != nil {
		return reply.Reply{}, fmt.Errorf("watch: %w", err)
	}
	if req.Station != "" {
		others := func(s watch.BaseStatus) bool {
			return s.Ident != req.Station && !slices.ContainsFunc(req.Stops, func(o parse.Stop) bool { return o.Station == s.Ident })
		}
		if one := slices.DeleteFunc(slices.Clone(all), others); len(one) > 0 {
			all = one
		} else {
			r := reply.Board(all, b.Zone)
			r.Facts = append(r.Facts, parse.NotWatched(req.Station))
			return r, nil
		}
	}
	return reply.Board(all, b.Zone), nil
}

// How many bases' observations are asked for at once, and how long a board waits for
// them: they are mostly at hand. Both figures are ours.
const (
	observedAtOnce = 16
	observedWithin = 5 * time.Second
)

// bases are those that are watched, as they are forecast and, where that is colder
// than their line, as they were last observed.
func (b *Bot) bases(ctx context.Context, at time.Time) ([]watch.BaseStatus, error) {
	all, err := b.ports.Watcher.Status(ctx, at)
	if err != nil || b.ports.Observer == nil {
		return all, err
	}
	index, idents := make(map[string]int, len(all)), make([]string, len(all))
	for i := range all {
		index[all[i].Ident], idents[i] = i, all[i].Ident
	}
	limited, cancel := context.WithTimeout(ctx, observedWithin)
	defer cancel()
	_ = weather.Each(limited, idents, observedAtOnce, func(ctx context.Context, ident string) {
		if o, err := b.ports.Observer.Observation(ctx, ident); err == nil {
			all[index[ident]].Observe(float64(o.C), o.At)
		}
	})
	return all, ctx.Err()
}

// Zone is a station's own, for times that people read.
func (b *Bot) Zone(ident string) *time.Location {
	if s, ok := b.stations.Station(ident); ok {
		return s.Zone
	}
	return time.UTC
}

func (b *Bot) acknowledge(ctx context.Context, req parse.Request, m Message) (reply.Reply, error) {
	if named := namedIn(req); req.Everywhere || len(named) > 1 {
		o, err := b.ports.Watcher.AcknowledgeAll(ctx, named, who(m), m.Channel)
		return b.outcome("ack", o, err)
	}
	o, err := b.ports.Watcher.Acknowledge(ctx, req.Station, who(m), m.Channel)
	return b.outcome("ack", o, err)
}

func (b *Bot) snooze(ctx context.Context, req parse.Request, m Message) (reply.Reply, error) {
	if named := namedIn(req); req.Everywhere || len(named) > 1 {
		o, err := b.ports.Watcher.SnoozeAll(ctx, named, who(m), m.Channel, req.For)
		return b.outcome("snooze", o, err)
	}
	o, err := b.ports.Watcher.Snooze(ctx, req.Station, who(m), req.For)
	return b.outcome("snooze", o, err)
}

// namedIn are the stations of a request that names several.
func namedIn(req parse.Request) (idents []string) {
	for _, s := range req.Stops {
		idents = append(idents, s.Station)
	}
	return idents
}

// outcome says what became of it.
func (b *Bot) outcome(word string, o watch.Outcome, err error) (reply.Reply, error) {
	if err != nil {
		return reply.Reply{}, fmt.Errorf("%s: %w", word, err)
	}
	if o.Try != "" {
		return b.ask(&parse.Problem{Word: word, Text: o.Text, Try: o.Try}), nil
	}
	return reply.Reply{Kind: reply.KindNotice, Facts: []string{o.Text}}, nil
}

// base begins or ends the watch of a base.
func (b *Bot) base(ctx context.Context, req parse.Request, m Message) (reply.Reply, error) {
	w := bases.Wish{
		Ident: req.Station, At: req.Base.At, Window: time.Duration(req.Base.Hours * float64(time.Hour)),
		Channel: req.Base.Channel, By: who(m),
	}
	if !m.Direct {
		w.Here = m.Channel
	}
	do := b.ports.Bases.Add
	if req.Base.Drop {
		do = b.ports.Bases.Drop
	}
	o, err := do(ctx, w)
	switch {
	case err != nil:
		return reply.Reply{}, err
	case !o.Done:
		return b.ask(&parse.Problem{Word: req.Station, Text: o.Text, Try: o.Try}), nil
	}
	return reply.Reply{Kind: reply.KindNotice, Facts: []string{o.Text}}, nil
}

func (b *Bot) observe(ctx context.Context, req parse.Request, m Message) (reply.Reply, error) {
	s, ok := b.stations.Station(req.Station)
	if !ok {
		return b.ask(&parse.Problem{Word: req.Station, Text: parse.UnknownStation(req.Station)}), nil
	}
	at := m.At
	if req.At.Said {
		day, hour, minute := max(int(req.At.Day), 0), req.At.Hour, req.At.Minute
		if req.At.Zone == parse.Local {
			utc := req.At.Latest(m.At.Add(12*time.Hour), s.Zone).UTC()
			day, hour, minute = utc.Day(), utc.Hour(), utc.Minute()
		}
		var wrong string
		if at, wrong = weather.TypedTime(day, hour, minute, m.At.UTC()); wrong != "" {
			return b.ask(&parse.Problem{Word: req.At.String(), Text: req.At.String() + " is " + wrong}), nil
		}
	}
	o := weather.TypedObservation(who(m), m.Text, s.Ident, req.Temperature, at, m.At)
	if _, err := b.ports.Observations.SaveObservation(ctx, o); err != nil {
		return reply.Reply{}, fmt.Errorf("obs: %w", err)
	}
	facts := []string{fmt.Sprintf("%s %s °C, observed %s local (%s), is written down.", s.Ident, reply.Degrees(o.C), o.At.In(s.Zone).Format("Mon 2 Jan 15:04"), o.At.UTC().Format("02 15:04Z"))}
	if age := m.At.Sub(o.At); age > weather.StaleAfter {
		facts = append(facts, fmt.Sprintf("It is %s, and what is older than %d min is not used for an answer.", reply.Age(age), int(weather.StaleAfter.Minutes())))
	}
	r := reply.Reply{Kind: reply.KindNotice, Facts: facts}
	if len(req.NotUsed) > 0 {
		r.Notes = []string{parse.Unused(req.NotUsed)}
	}
	return r, nil
}

// exampleIdent is a station of this configuration.
func (b *Bot) exampleIdent() string {
	ident, _, _ := strings.Cut(b.example, " ")
	return ident
}

// who is the person for the record; the console has no accounts.
func who(m Message) string {
	if m.User != "" {
		// A name stands in sentences of the watch: “Anna” (slack:U1).
		if name, ok := strings.CutSuffix(m.User, " ("+m.Person+")"); ok {
			return person.Shown(name) + " (" + m.Person + ")"
		}
		return m.User
	}
	return "the " + m.Surface
}
