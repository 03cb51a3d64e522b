package watch

import (
	"cmp"
	"context"
	"slices"
	"sync"
	"time"

	"firn/bot/person"
	"firn/bot/reply"
	"firn/bot/weather"
	"firn/engine/coldwatch"
)

// BaseStatus is one base as of a time; its JSON form is a contract.
type BaseStatus = reply.Cold

// Status judges every base as of a time, for the duty window that is running
// then or the next to come, in the order of idents. It writes nothing, and reads
// of the store until when a base's alert is snoozed. A base that cannot be judged is no-forecast with the
// reason in its note; the error is the context's alone.
func (w *Watch) Status(ctx context.Context, at time.Time) ([]BaseStatus, error) {
	bases := w.watched.Load().all
	out := make([]BaseStatus, len(bases))
	index := make(map[*base]int, len(bases))
	for i, b := range bases {
		index[b] = i
	}
	var mu sync.Mutex
	w.each(bases, func(b *base) {
		j, day, began := w.status(ctx, b, at)
		c := reply.ColdOf(b.Ident, j)
		c.Began = began
		c.Doubt = weather.Doubt(j.Note, j.Issued, at)
		c.Pass(at)
		w.minded(ctx, &c, b, j, day, at)
		mu.Lock()
		defer mu.Unlock()
		out[index[b]] = c
	})
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	return out, nil
}

// minded adds who has seen the alert of a base's day that holds, and until when
// nobody is reminded; nothing where nobody has to.
func (w *Watch) minded(ctx context.Context, c *BaseStatus, b *base, j coldwatch.Judgement, day string, at time.Time) {
	if w.store == nil || day == "" || !j.State.Asks() {
		return
	}
	d, err := w.store.Day(ctx, b.Ident, day)
	if err != nil {
		return // the tick tells of a store that fails
	}
	if at.Before(d.SnoozedUntil) {
		c.SnoozedUntil = d.SnoozedUntil.UTC()
	}
	_, c.Open = d.told()
	if asked, asks := d.asks(); asks {
		if a, ok := d.ackOf(asked.Seq); ok {
			c.SeenBy, c.SeenAt = person.Named(a.By), a.At.UTC()
		}
	}
}

// status judges one base. day is that whose window is running; empty where none
// is. began is when the window that is judged begins or has begun.
func (w *Watch) status(ctx context.Context, b *base, at time.Time) (j coldwatch.Judgement, day string, began time.Time) {
	p, ok := b.coming(at)
	if !ok {
		return coldwatch.Judgement{State: coldwatch.NoForecast, Note: "no duty window is scheduled"}, "", time.Time{}
	}
	if !p.window.From.After(at) {
		day = p.day
	}
	began = p.window.From
	p.window = p.window.Rest(at) // what has gone by is no news
	j, failed, err := w.judge(ctx, b, p.window, at, func() (was coldwatch.Judgement) {
		if w.store == nil || day == "" {
			return was
		}
		d, err := w.store.Day(ctx, b.Ident, day)
		if err != nil || len(d.Alerts) == 0 {
			return was // the tick tells of a store that fails
		}
		return d.judged().Judgement
	})
	if failed = cmp.Or(failed, err); failed != nil {
		j.Note = failedNote(j, failed)
	}
	return j, day, began
}

// failedNote is the note of a judgement for which a source failed, beside what
// was said of forecasts that others had.
func failedNote(j coldwatch.Judgement, failed error) string {
	note := weather.NoteWhy(oneLine(weather.Failures(failed)))
	if j.Source != "" {
		return j.Note + "; " + note
	}
	return note
}

// coming is the day whose window is running, else the next.
func (b *base) coming(at time.Time) (plan, bool) {
	for _, p := range slices.Backward(plansAround(b.Watch, b.Zone, at)) {
		if !p.window.From.After(at) && at.Before(p.end()) {
			return p, true
		}
	}
	for _, p := range plansAround(b.Watch, b.Zone, at) {
		if p.window.From.After(at) {
			return p, true
		}
	}
	return plan{}, false
}

func sortBases(all []*base) {
	slices.SortStableFunc(all, func(a, b *base) int { return cmp.Compare(a.Ident, b.Ident) })
}
