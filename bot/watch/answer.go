package watch

import (
	"context"
	"fmt"
	"strings"
	"time"

	"firn/bot/outbox"
	"firn/bot/person"
	"firn/bot/reply"
	"firn/engine/coldwatch"
)

// Outcome is what became of an acknowledgement or a snooze, in words for the
// person.
type Outcome struct {
	Done bool   // it was written down
	Text string // one or two sentences
	Try  string // what to type instead, where there is something
}

// longestSnooze bounds a snooze. The figure is ours.
const longestSnooze = 24 * time.Hour

// today finds the base and its day that is open.
func (w *Watch) today(ctx context.Context, ident string, now time.Time) (*base, plan, Day, *Outcome, error) {
	ident = strings.ToUpper(strings.TrimSpace(ident))
	b := w.watched.Load().byIdent[ident]
	if b == nil {
		return nil, plan{}, Day{}, &Outcome{Text: fmt.Sprintf("%s is not a base that is watched.", ident), Try: w.example()}, nil
	}
	b.mu.Lock()
	var p plan
	for _, q := range b.around(now) {
		if !now.Before(q.window.From) && now.Before(q.gone) {
			p = q
		}
	}
	b.mu.Unlock()
	if p.day == "" {
		return b, p, Day{}, &Outcome{Text: ident + " has no alert now."}, nil
	}
	d, err := w.store.Day(ctx, ident, p.day)
	if err != nil {
		return b, p, d, nil, fmt.Errorf("watch %s: %w", ident, err)
	}
	return b, p, d, nil, nil
}

func (w *Watch) example() string {
	all := w.watched.Load().all
	if len(all) == 0 {
		return ""
	}
	return "ack " + all[0].Ident
}

// told is the alert that may be acknowledged now.
func (d Day) told() (Alert, bool) {
	if len(d.Alerts) == 0 {
		return Alert{}, false
	}
	j := d.judged()
	return j, j.Kind != AllClear && j.Kind != Ended && j.Judgement.State != coldwatch.Clear
}

// Acknowledge writes down that a person has seen a base's alert: it is not
// repeated any more, until a later forecast changes it. Wherever the alert
// went it is told, but for the channel from, where the person did it.
func (w *Watch) Acknowledge(ctx context.Context, ident, by, from string) (Outcome, error) {
	now := w.now()
	b, p, d, o, err := w.today(ctx, ident, now)
	if o != nil || err != nil {
		return deref(o), err
	}
	told, ok := d.told()
	if !ok {
		return Outcome{Text: fmt.Sprintf("There is nothing to acknowledge for %s.", b.Ident)}, nil
	}
	already := func(a Ack) Outcome {
		return Outcome{Text: fmt.Sprintf("%s is already acknowledged by %s at %s.", b.Ident, person.Named(a.By), b.clock(a.At))}
	}
	if a, ok := d.ackOf(told.Seq); ok {
		return already(a), nil
	}
	a := Ack{Base: b.Ident, Day: p.day, Seq: d.next() - 1, By: by, At: now}
	text := fmt.Sprintf("%s is acknowledged by %s at %s. A forecast that changes it is told again.", b.Ident, person.Named(by), b.clock(now))
	fresh, err := w.store.Acknowledge(ctx, a, w.tellAck(b, d, a, text, from))
	if err != nil {
		return Outcome{}, fmt.Errorf("watch %s: %w", b.Ident, err)
	}
	if !fresh {
		return already(a), nil
	}
	w.log.InfoContext(ctx, "alert acknowledged", "base", b.Ident, "day", p.day, "seq", a.Seq)
	w.set.Wrote()
	return Outcome{Done: true, Text: text}, nil
}

// tellAck are the posts that tell an acknowledgement where the alert went.
// Of two people who acknowledge the same at once, one is told.
func (w *Watch) tellAck(b *base, d Day, a Ack, text, from string) []outbox.Item {
	var items []outbox.Item
	for _, c := range w.set.channels(b.Watch.Channels, AllClear, 0, d.escalated()) {
		if c.String() == from {
			continue
		}
		items = append(items, outbox.Item{
			Key:     fmt.Sprintf("ack/%s/%s/%d", a.Base, a.Day, a.Seq),
			Channel: c.String(),
			Body:    reply.Reply{Kind: reply.KindNotice, Facts: []string{text}},
			Made:    a.At, Due: a.At,
		})
	}
	return items
}

// Snooze holds the repeats of a base's alert for a while. What crosses the
// line is told all the same.
func (w *Watch) Snooze(ctx context.Context, ident, by string, d time.Duration) (Outcome, error) {
	now := w.now()
	b, p, day, o, err := w.today(ctx, ident, now)
	if o != nil || err != nil {
		return deref(o), err
	}
	if d < time.Minute || d > longestSnooze {
		return Outcome{Text: "A snooze is from a minute to 24 hours.", Try: "snooze " + b.Ident + " 2h"}, nil
	}
	told, ok := day.told()
	if !ok {
		return Outcome{Text: fmt.Sprintf("There is nothing to snooze for %s.", b.Ident)}, nil
	}
	if told.Judgement.State == coldwatch.Near {
		return Outcome{Text: b.Ident + " is only near the line, which is not repeated: there is nothing to snooze."}, nil
	}
	until := now.Add(d)
	if p.end().Before(until) {
		until = p.end()
	}
	if !until.After(now) {
		return Outcome{Text: fmt.Sprintf("The duty window of %s is over: there is nothing to snooze.", b.Ident)}, nil
	}
	if err := w.store.Snooze(ctx, b.Ident, p.day, until, by); err != nil {
		return Outcome{}, fmt.Errorf("watch %s: %w", b.Ident, err)
	}
	w.log.InfoContext(ctx, "alert snoozed", "base", b.Ident, "day", p.day, "until", until.UTC())
	w.set.Snoozed(ctx, dayKey(b.Ident, p.day), fmt.Sprintf("No reminders until %s, by %s.", b.clock(until), person.Named(by)))
	return Outcome{Done: true, Text: fmt.Sprintf("%s: no reminders until %s. A forecast that crosses the line is told all the same.", b.Ident, b.clock(until))}, nil
}

// clock writes an instant in the base's time and in UTC.
func (b *base) clock(t time.Time) string {
	return t.In(b.Zone).Format("15:04") + " local (" + t.UTC().Format("15:04Z") + ")"
}

func deref(o *Outcome) Outcome {
	if o == nil {
		return Outcome{}
	}
	return *o
}
