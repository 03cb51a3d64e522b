package watch

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"firn/bot/outbox"
	"firn/bot/weather"
	"firn/engine/coldwatch"
)

// open writes the morning's word. It waits for no other replica: the key lets one
// of them write it.
func (w *Watch) open(ctx context.Context, b *base, p plan, t dueAction, now time.Time) (bool, error) {
	window := p.window
	if now.Sub(window.From) > 2*w.set.Grace {
		window = window.Rest(now) // what has gone by is no news
	}
	j, failed, err := w.judge(ctx, b, window, now, nil)
	if err != nil {
		return false, err
	}
	if failed != nil {
		if now.Before(latest(p.window.From.Add(w.set.Grace), w.began.Add(min(w.set.Grace, 2*time.Minute)))) {
			w.log.WarnContext(ctx, "forecast source failed, to be asked again", "base", b.Ident, "err", failed)
			return false, nil
		}
		w.log.WarnContext(ctx, "no forecast, the source failed", "base", b.Ident, "day", p.day, "err", failed)
		j.Note = failedNote(j, failed)
	}
	a := Alert{Base: b.Ident, Day: p.day, Seq: 1, Kind: Opened, Judgement: j, Made: now}
	said := announcement{due: t.due, window: window}
	if j.State == coldwatch.Clear {
		before, err := w.dayBefore(ctx, b, p, now)
		if err != nil {
			return false, err
		}
		said.changes, said.also = over(before, j), before.escalated()
		said.silent = len(said.changes) == 0 && !w.set.DailyQuiet
	}
	return w.write(ctx, b, p, Day{}, a, said)
}

// dayBefore is the base's day before another, as far as it is kept in mind.
func (w *Watch) dayBefore(ctx context.Context, b *base, p plan, now time.Time) (Day, error) {
	before := ""
	for _, q := range b.around(now) {
		if q.window.From.Before(p.window.From) {
			before = q.day
		}
	}
	if before == "" {
		return Day{}, nil
	}
	d, err := w.store.Day(ctx, b.Ident, before)
	if err != nil {
		return Day{}, fmt.Errorf("watch %s: %w", b.Ident, err)
	}
	return d, nil
}

// over says that what was last told of the day before has ended; nothing where
// nobody waits for that.
func over(before Day, j coldwatch.Judgement) []coldwatch.Change {
	if len(before.Alerts) == 0 {
		return nil
	}
	last := before.judged()
	if last.Kind == AllClear || !last.Judgement.State.Asks() {
		return nil
	}
	day := last.Day
	if d, err := time.Parse(time.DateOnly, day); err == nil {
		day = d.Format("Mon 2 Jan")
	}
	was := "ended not known"
	if last.Judgement.State == coldwatch.Below { // how it ended no forecast need say
		was = "was forecast at or below the restriction temperature"
	}
	return []coldwatch.Change{{Reason: coldwatch.Over, Text: fmt.Sprintf("%s %s; this day begins clear", day, was)}}
}

// recheck looks for a newer forecast and writes what it changes.
func (w *Watch) recheck(ctx context.Context, b *base, p plan, d Day, now time.Time) (bool, error) {
	if other, err := w.lookedAt(ctx, b); err != nil || other {
		return false, err
	}
	rest := p.window.Rest(now)
	before := d.judged().Judgement
	j, failed, err := w.judge(ctx, b, rest, now, func() coldwatch.Judgement { return before })
	if err != nil {
		return false, err
	}
	if failed != nil {
		w.log.WarnContext(ctx, "no newer forecast, the source failed", "base", b.Ident, "day", p.day, "err", failed)
		if w.stands(before, failed, now) {
			return false, nil
		}
		j.Note = failedNote(j, failed)
	}
	changes := coldwatch.Changed(before, j, rest, w.set.Step)
	snoozed := now.Before(d.SnoozedUntil)
	kind, wakes := news(before.State, j.State, changes, snoozed)
	if kind == "" {
		return false, nil
	}
	if snoozed && wakes {
		// Before the word is written: it must not be mute after a kill.
		if err := w.store.Snooze(ctx, b.Ident, p.day, now, ""); err != nil {
			return false, fmt.Errorf("watch %s: %w", b.Ident, err)
		}
	}
	a := Alert{Base: b.Ident, Day: p.day, Seq: d.next(), Kind: kind, Judgement: j, Made: now}
	return w.write(ctx, b, p, d, a, announcement{due: now, window: rest, changes: changes})
}

// stands says that what was judged holds though its source fails: it is not too
// old for that, and goes on. Where a newer report cannot be read, nothing but a
// cold holds.
func (w *Watch) stands(j coldwatch.Judgement, failed error, now time.Time) bool {
	if j.State == coldwatch.NoForecast {
		return true
	}
	if j.State != coldwatch.Below && weather.Unread(failed, j.Source) {
		return false
	}
	return weather.FailingOf(failed, j.Source) && now.Sub(j.Issued) <= w.set.Kept && (j.CoveredTo.IsZero() || j.CoveredTo.After(now))
}

// say writes a word of what was judged before.
func (w *Watch) say(ctx context.Context, b *base, p plan, d Day, t dueAction, now time.Time) (bool, error) {
	a := Alert{Base: b.Ident, Day: p.day, Seq: d.next(), Kind: t.kind, Judgement: d.judged().Judgement, Made: now}
	said := announcement{due: t.due, window: p.window, nth: t.nth}
	if asked, ok := d.asks(); ok {
		said.waiting = now.Sub(asked.Made)
	}
	// A source that is slow or fails keeps no word back.
	switch forecasts, ferr := w.ask(ctx, b.Ident); {
	case ctx.Err() != nil:
		return false, ctx.Err()
	case t.kind == Ended:
		// The hour that follows tells whether it is over.
		after := coldwatch.Window{From: p.window.To, To: p.window.To.Add(time.Hour)}
		if j, _ := w.choose(b, after, forecasts, ferr, now); j.State < coldwatch.PartForecast && !lost(a.Judgement, j, ferr, p.window.To) {
			a.Judgement = j
		}
	default:
		a.Judgement.Note = withFailure(a.Judgement, forecasts, ferr)
	}
	return w.write(ctx, b, p, d, a, said)
}

// withFailure is the note of a judgement, and that its source has failed since.
func withFailure(j coldwatch.Judgement, forecasts []weather.Forecast, ferr error) string {
	if j.State == coldwatch.NoForecast || j.Source == "" {
		return j.Note
	}
	note := ""
	if ferr != nil && !errors.Is(ferr, weather.ErrNone) && weather.FailingOf(ferr, j.Source) {
		note = weather.FailedNote(j.Issued)
	}
	for i := range forecasts {
		if forecasts[i].Source == j.Source {
			note = forecasts[i].Note
			break
		}
	}
	if note == "" || strings.Contains(j.Note, note) {
		return j.Note
	}
	if j.Note == "" {
		return note
	}
	return note + "; " + j.Note
}

// next is the number of the next alert.
func (d Day) next() int {
	if n := len(d.Alerts); n > 0 {
		return d.Alerts[n-1].Seq + 1
	}
	return 1
}

// write puts an alert and its posts into the store, in one transaction.
func (w *Watch) write(ctx context.Context, b *base, p plan, d Day, a Alert, said announcement) (bool, error) {
	var posts []outbox.Item
	if !said.silent && !w.digesting() {
		posts = w.posts(b, p, d, a, said)
	}
	fresh, err := w.store.Open(ctx, a, posts)
	if err != nil {
		return false, fmt.Errorf("watch %s: %w", b.Ident, err)
	}
	if !fresh {
		return false, nil // another replica was first
	}
	attrs := []any{"base", a.Base, "day", a.Day, "seq", a.Seq, "kind", string(a.Kind), "state", a.Judgement.State.String(), "posts", len(posts)}
	if !a.Judgement.LowAt.IsZero() {
		attrs = append(attrs, "low_c", float64(a.Judgement.Low))
	}
	w.log.InfoContext(ctx, "alert written", attrs...)
	if len(posts) > 0 {
		w.set.Wrote()
	}
	return true, nil
}
