package watch

import (
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
