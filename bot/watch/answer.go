package watch

import (
	"context"
	"fmt"
	"slices"
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

	first Ack // of who had acknowledged it already; zero: nobody had
}

// longestSnooze bounds a snooze. The figure is ours.
const longestSnooze = 24 * time.Hour

// snoozeBounds says so, and that it has a minute at least.
const snoozeBounds = "A snooze is from a minute to 24 hours."

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
	o, b, err := w.acknowledge(ctx, ident, by, from, now)
	if o.Done {
		w.show(ctx, b, now)
	}
	return o, err
}

func (w *Watch) acknowledge(ctx context.Context, ident, by, from string, now time.Time) (Outcome, *base, error) {
	b, p, d, o, err := w.today(ctx, ident, now)
	if o != nil || err != nil {
		return deref(o), b, err
	}
	told, ok := d.told()
	if !ok {
		return Outcome{Text: fmt.Sprintf("There is nothing to acknowledge for %s.", b.Ident)}, b, nil
	}
	already := func(a Ack) Outcome {
		return Outcome{Text: fmt.Sprintf("%s is already acknowledged by %s at %s.", b.Ident, person.Named(a.By), b.clock(a.At)), first: a}
	}
	if a, ok := d.ackOf(told.Seq); ok {
		return already(a), b, nil
	}
	a := Ack{Base: b.Ident, Day: p.day, Seq: d.next() - 1, By: by, At: now}
	text := fmt.Sprintf("%s is acknowledged by %s at %s. A forecast that changes it is told again.", b.Ident, person.Named(by), b.clock(now))
	fresh, err := w.store.Acknowledge(ctx, a, w.tellAck(b, d, a, text, from))
	if err != nil {
		return Outcome{}, b, fmt.Errorf("watch %s: %w", b.Ident, err)
	}
	if !fresh {
		return already(a), b, nil
	}
	w.log.InfoContext(ctx, "alert acknowledged", "base", b.Ident, "day", p.day, "seq", a.Seq)
	w.set.Wrote()
	w.set.Seen(ctx, b.Ident, p.day, fmt.Sprintf("Seen by %s %s.", person.Named(by), now.In(b.Zone).Format("15:04")))
	return Outcome{Done: true, Text: text}, b, nil
}

// show has the digests of a base's channels, of all where it is nil, say at once
// what somebody did.
func (w *Watch) show(ctx context.Context, b *base, now time.Time) {
	if err := w.tellDigests(ctx, now, b, true); err != nil {
		w.log.WarnContext(ctx, "digests do not show it yet", "err", err)
	}
}

// placed are the bases whose words go to a channel; where none do, all.
func (w *Watch) placed(channel string) []*base {
	there := slices.DeleteFunc(slices.Clone(w.watched.Load().all), func(b *base) bool { return !w.placesOf(b)[channel] })
	if len(there) == 0 {
		return w.watched.Load().all
	}
	return there
}

// meant are the bases that are named; where none are, those of a channel.
func (w *Watch) meant(idents []string, channel string) []*base {
	if len(idents) == 0 {
		return w.placed(channel)
	}
	return slices.DeleteFunc(slices.Clone(w.watched.Load().all), func(b *base) bool { return !slices.Contains(idents, b.Ident) })
}

// AcknowledgeAll acknowledges what nobody has seen of the bases that are named;
// where none are, of those whose words go to the channel from, and of all where
// none do.
func (w *Watch) AcknowledgeAll(ctx context.Context, idents []string, by, from string) (Outcome, error) {
	now := w.now()
	return w.forAll(ctx, now, idents, from, "Nothing waits to be acknowledged here.", "Acknowledged by "+person.Named(by), func(ident string) (Outcome, *base, error) {
		return w.acknowledge(ctx, ident, by, from, now)
	})
}

// SnoozeAll holds the repeats of these bases' alerts for a while.
func (w *Watch) SnoozeAll(ctx context.Context, idents []string, by, from string, d time.Duration) (Outcome, error) {
	if d < time.Minute || d > longestSnooze {
		return Outcome{Text: snoozeBounds, Try: "snooze all 2h"}, nil
	}
	now := w.now()
	return w.forAll(ctx, now, idents, from, "There is nothing to snooze here.", "No reminders until "+now.Add(d).UTC().Format("15:04Z")+", or the end of the duty window", func(ident string) (Outcome, *base, error) {
		return w.snooze(ctx, ident, by, d, now)
	})
}

// forAll does something for each base that is named or of a channel, and says for
// which it was done, and who had done it for the others.
func (w *Watch) forAll(ctx context.Context, now time.Time, idents []string, from, none, what string, do func(ident string) (Outcome, *base, error)) (Outcome, error) {
	var done []string
	var last *base
	var others []Ack
	for _, one := range w.meant(idents, from) {
		o, b, err := do(one.Ident)
		if err != nil {
			return Outcome{}, err
		}
		switch {
		case o.Done:
			done, last = append(done, one.Ident), b
		case o.first.By != "":
			others = append(others, o.first)
		}
	}
	switch {
	case last == nil && len(others) > 0:
		return Outcome{Text: "Already acknowledged: " + firsts(others) + "."}, nil
	case last == nil:
		return Outcome{Text: none}, nil
	}
	// What was done comes first: many idents leave nothing else on a locked screen.
	text := what + ": " + strings.Join(done, ", ") + "."
	if len(others) > 0 {
		text += " Already: " + firsts(others) + "."
	}
	if from == "" || !w.placesOf(last)[from] {
		last = nil // it may concern every channel
	}
	w.show(ctx, last, now)
	return Outcome{Done: true, Text: text}, nil
}

// firsts says by whom bases were acknowledged, and when: XFRN, XGLN by Odd at
// 14:10Z; XKLD by Kari at 13:05Z.
func firsts(all []Ack) string {
	var whom []string
	idents := map[string][]string{}
	for _, a := range all {
		by := person.Named(a.By) + " at " + a.At.UTC().Format("15:04Z")
		if idents[by] == nil {
			whom = append(whom, by)
		}
		idents[by] = append(idents[by], a.Base)
	}
	for i, by := range whom {
		whom[i] = strings.Join(idents[by], ", ") + " by " + by
	}
	return strings.Join(whom, "; ")
}

// tellAck are the posts that tell an acknowledgement where the alert went.
// Of two people who acknowledge the same at once, one is told.
func (w *Watch) tellAck(b *base, d Day, a Ack, text, from string) []outbox.Item {
	var items []outbox.Item
	for _, c := range w.set.channels(b.Watch.Channels, AllClear, 0, d.escalated()) {
		if c.String() == from || w.set.Edits(c.String()) {
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
// line, or is colder by more than the step, is told all the same.
func (w *Watch) Snooze(ctx context.Context, ident, by string, d time.Duration) (Outcome, error) {
	now := w.now()
	o, b, err := w.snooze(ctx, ident, by, d, now)
	if o.Done {
		w.show(ctx, b, now)
	}
	return o, err
}

func (w *Watch) snooze(ctx context.Context, ident, by string, d time.Duration, now time.Time) (Outcome, *base, error) {
	b, p, day, o, err := w.today(ctx, ident, now)
	if o != nil || err != nil {
		return deref(o), b, err
	}
	if d < time.Minute || d > longestSnooze {
		return Outcome{Text: snoozeBounds, Try: "snooze " + b.Ident + " 2h"}, b, nil
	}
	told, ok := day.told()
	if !ok {
		return Outcome{Text: fmt.Sprintf("There is nothing to snooze for %s.", b.Ident)}, b, nil
	}
	if told.Judgement.State == coldwatch.Near {
		return Outcome{Text: b.Ident + " is only near the line, which is not repeated: there is nothing to snooze."}, b, nil
	}
	until := now.Add(d)
	if p.end().Before(until) {
		until = p.end()
	}
	if !until.After(now) {
		return Outcome{Text: fmt.Sprintf("The duty window of %s is over: there is nothing to snooze.", b.Ident)}, b, nil
	}
	if err := w.store.Snooze(ctx, b.Ident, p.day, until, by); err != nil {
		return Outcome{}, b, fmt.Errorf("watch %s: %w", b.Ident, err)
	}
	w.log.InfoContext(ctx, "alert snoozed", "base", b.Ident, "day", p.day, "until", until.UTC())
	w.set.Snoozed(ctx, dayKey(b.Ident, p.day), fmt.Sprintf("No reminders until %s, by %s.", b.clock(until), person.Named(by)))
	return Outcome{Done: true, Text: fmt.Sprintf("%s: no reminders until %s. A forecast that crosses the line, or is colder than what was told, is told all the same.", b.Ident, b.clock(until))}, b, nil
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
