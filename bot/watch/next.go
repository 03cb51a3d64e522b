package watch

import (
	"context"
	"fmt"
	"time"

	"firn/bot/config"
)

// Morning is when a base is looked at next and whom it tells.
type Morning struct {
	Ident    string
	At       time.Time // zero: never
	Channels []config.Address
}

// Next gives the next morning of each base after a time, in the order of
// idents.
func (w *Watch) Next(after time.Time) []Morning {
	all := w.watched.Load().all
	out := make([]Morning, len(all))
	for i, b := range all {
		out[i] = Morning{Ident: b.Ident, Channels: w.set.channels(b.Watch.Channels, Opened, 0, 0)}
		for _, p := range plansAround(b.Watch, b.Zone, after) {
			if p.window.From.After(after) {
				out[i].At = p.window.From
				break
			}
		}
	}
	return out
}

// Unsaid is a base whose duty window has begun without the morning's word.
type Unsaid struct {
	Ident string
	Due   time.Time
}

// Unsaid gives the bases whose word has been due for longer than late and is
// not in the store, in the order of idents: no process looks at them. It
// writes nothing.
func (w *Watch) Unsaid(ctx context.Context, now time.Time, late time.Duration) ([]Unsaid, error) {
	born := w.bornAt(ctx)
	var out []Unsaid
	for _, b := range w.watched.Load().all {
		for _, p := range plansAround(b.Watch, b.Zone, now) {
			if now.Before(p.window.From) || !now.Before(p.end()) {
				continue
			}
			d, err := w.store.Day(ctx, b.Ident, p.day)
			if err != nil {
				return nil, fmt.Errorf("watch %s: %w", b.Ident, err)
			}
			t := due(p, d, now, &w.set)
			if born.Before(now) { // as in do
				t.due = latest(t.due, born)
			}
			if t.step == open && now.Sub(t.due) > late {
				out = append(out, Unsaid{Ident: b.Ident, Due: t.due})
				break
			}
		}
	}
	return out, nil
}
