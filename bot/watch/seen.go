package watch

import (
	"context"
	"time"

	"firn/bot/person"
)

// Seen is what is known of a base's alert now.
type Seen struct {
	Open  bool      // there is one that may be acknowledged
	By    string    // who has, as a sentence names them; empty: nobody
	At    time.Time // when
	Quiet time.Time // no reminders until then; zero: there are
}

// Seen says who has seen the alert of a base. The error is the store's.
func (w *Watch) Seen(ctx context.Context, ident string, at time.Time) (Seen, error) {
	_, _, d, o, err := w.today(ctx, ident, at)
	if o != nil || err != nil {
		return Seen{}, err
	}
	told, open := d.told()
	if !open {
		return Seen{}, nil
	}
	s := Seen{Open: true}
	if a, ok := d.ackOf(told.Seq); ok {
		s.By, s.At = person.Named(a.By), a.At
	}
	if until := d.SnoozedUntil; until.After(at) {
		s.Quiet = until
	}
	return s, nil
}
