package watch

import (
	"fmt"
	"slices"
	"time"

	"firn/bot/airports"
	"firn/bot/config"
	"firn/bot/outbox"
	"firn/bot/person"
	"firn/bot/reply"
	"firn/engine/coldwatch"
	"firn/engine/procedure"
	"firn/engine/ruleset"
)

// announcement are what an alert says besides itself.
type announcement struct {
	due     time.Time
	window  coldwatch.Window // that was judged
	changes []coldwatch.Change
	waiting time.Duration // how long nobody has acknowledged
	nth     int           // of an escalation
	also    int           // how many on duty were told of the day before
	silent  bool          // kept, not posted
}

// Key names an alert's posts for ever.
func (a Alert) Key() string { return fmt.Sprintf("%s%d", dayKey(a.Base, a.Day), a.Seq) }

// dayKey is what the keys of a base's day begin with.
func dayKey(base, day string) string { return "alert/" + base + "/" + day + "/" }

// posts are an alert's items, one a channel.
func (w *Watch) posts(b *base, p plan, d Day, a Alert, said announcement) []outbox.Item {
	channels := w.set.channels(b.Watch.Channels, a.Kind, said.nth, max(d.escalated(), said.also))
	if len(channels) == 0 {
		w.log.Warn("alert has no channel to go to", "base", a.Base, "key", a.Key())
		return nil
	}
	body := w.body(b, p, d, a, said)
	seen := map[config.Address]bool{}
	var items []outbox.Item
	for _, c := range channels {
		if seen[c] {
			continue
		}
		seen[c] = true
		items = append(items, outbox.Item{Key: a.Key(), Channel: c.String(), Body: body, Made: a.Made, Due: said.due})
	}
	return items
}

// body is an alert as people read it.
func (w *Watch) body(b *base, p plan, d Day, a Alert, said announcement) reply.Reply {
	sc := reply.AlertScene{
		Base: reply.Scene{
			Ident: b.Ident, Name: b.Name, Elevation: b.Elevation, Source: b.HeightsFrom(), Altimeter: b.SourceElevation,
			Set: w.set.Rules, Outside: w.set.Outside,
		},
		Zone:        b.Zone,
		Segments:    designated(b.Station.Segments),
		Mountainous: b.Mountains(),
		Margin:      b.Watch.Margin,
		Usual:       w.set.Usual(b.Ident),
		Kind:        string(a.Kind),
		Day:         a.Day,
		Window:      said.window,
		Rest:        said.window.From.After(p.window.From),
		Judgement:   a.Judgement,
		Changes:     said.changes,
		Waiting:     said.waiting,
		Due:         said.due,
		Now:         a.Made,
	}
	if b.Restriction != nil {
		sc.Base.Restriction, sc.Base.Restricted = *b.Restriction, true
	}
	changed := a.Seq // the word that acknowledgements are of
	if len(d.Alerts) > 0 && (a.Kind == Repeated || a.Kind == Escalated) {
		changed = d.judged().Seq
	}
	for _, k := range d.Acks {
		sc.Acks = append(sc.Acks, reply.AlertAck{By: person.Named(k.By), At: k.At, Before: k.Seq < changed})
	}
	r := reply.Alert(sc)
	// Of a base that was added from a list: whether its restriction still holds.
	r.Facts = append(r.Facts, b.ListNotes(a.Made)...)
	if b.Mountainous == airports.NotKnown && w.set.Rules != nil && a.Judgement.State == coldwatch.Below &&
		slices.ContainsFunc(w.set.Rules.Require, func(r ruleset.Require) bool { return r.When.Mountainous }) {
		r.Facts = append(r.Facts, fmt.Sprintf("Whether %s lies in designated mountainous terrain is not known: the rules are taken as if it did.", b.Ident))
	}
	return r
}

// designated are a station's listed segments; none may be left out unseen, so
// that a station with no list has them all.
func designated(listed []config.Segment) []procedure.Segment {
	if len(listed) == 0 {
		return []procedure.Segment{procedure.Initial, procedure.Intermediate, procedure.Final, procedure.Missed}
	}
	var out []procedure.Segment
	for _, id := range listed {
		if s, ok := procedure.ParseSegment(string(id)); ok {
			out = append(out, s)
		}
	}
	return out
}
