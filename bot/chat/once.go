package chat

import (
	"context"
	"crypto/sha256"
	"time"
)

// Services send an event again within minutes. The figures are ours.
const (
	onceLife = time.Hour
	onceMost = 50000
)

// first says whether this is the first time that an event comes; taken is
// closed when it was taken then. An event without an id cannot be known again.
// others says that another process has it, and that it is a message that must
// be answered if that one dies.
func (d *Dispatcher) first(ctx context.Context, s Surface, e *Event) (first, others bool, taken chan struct{}) {
	made := func() chan struct{} { return make(chan struct{}) }
	if e.ID == "" {
		return true, false, made()
	}
	d.seen.With(eventID(s, *e), d.now(), made, func(c *chan struct{}, fresh bool) { first, taken = fresh, *c })
	if !first || d.set.Once == nil {
		return first, false, taken
	}
	if d.ours(ctx, s, e) {
		return true, false, taken
	}
	close(taken)
	return false, d.set.Hold > 0 && e.Message != "" && (e.Kind == MessagePosted || e.Kind == Edited), nil
}

// eventID is an event's name among those of all surfaces.
func eventID(s Surface, e Event) string { return s.Name() + "/" + e.ID }

// A store that starts again is back within seconds. The figures are ours.
const (
	onceTries = 7
	oncePause = 100 * time.Millisecond // doubled each time: six seconds in all
	onceLimit = 7 * time.Second        // for one that does not answer
	onceApart = 2 * time.Second        // so that of two that cannot tell one finds the other's answer
)

// ours asks whether the event is this process's.
func (d *Dispatcher) ours(ctx context.Context, s Surface, e *Event) bool {
	limited, cancel := context.WithTimeout(ctx, onceLimit)
	defer cancel()
	for try := 0; ; try++ {
		ours, err := d.set.Once(limited, eventID(s, *e))
		if err == nil {
			return ours
		}
		if try == onceTries-1 || wait(limited, oncePause<<try) != nil {
			// Another may have come to the same: what it showed is not shown again.
			e.Again = true
			if d.set.Jitter != nil {
				_ = wait(ctx, time.Duration(d.set.Jitter()*float64(onceApart))) // it is taken all the same
			}
			d.log.WarnContext(ctx, "not known whether another took the event; taken", "surface", s.Name(), "event", e.ID, "err", err)
			return true
		}
	}
}

// later looks after a message that another process has, and takes it when
// that one has died: nobody else would, since the service has been told that
// the message came. It looks twice, since one that tries again keeps it longer.
func (d *Dispatcher) later(ctx context.Context, s Surface, e Event) {
	d.lookedAfter.Go(func() {
		e.Again = true
		for range 2 {
			if wait(ctx, d.set.Hold) != nil {
				return // the one that has it goes on, or the service sends it again
			}
			if d.ours(ctx, s, &e) {
				d.log.WarnContext(ctx, "event was not answered by the process that took it; taken", "surface", s.Name(), "event", e.ID)
				d.begin()
				defer d.end()
				within, cancel := context.WithTimeout(ctx, d.set.Limit+grace)
				defer cancel()
				d.answer(within, ctx, s, e)
				return
			}
		}
	})
}

// A service that lost an answer on its way is asked again soon, and after a
// quarter of a minute no more: the person has read the card, or asked again.
// The figures are ours.
const (
	againTries = 3
	againPause = 2 * time.Second // doubled each time
)

// again tries a message again whose answer may stand: it is looked for, and
// posted where it is missing. A card that stands and that nobody knows would
// show for ever what it showed first, whatever is done to its record.
func (d *Dispatcher) again(ctx context.Context, s Surface, e Event) (became delivery) {
	if e.ID == "" || e.Message == "" {
		return unknown // a command's answer cannot be recognised everywhere; its person sees that there is none
	}
	e.Again = true
	for try := range againTries {
		if wait(ctx, againPause<<try) != nil || d.set.Once != nil && !d.ours(ctx, s, &e) {
			return unknown
		}
		within, cancel := context.WithTimeout(ctx, d.set.Limit+grace)
		became = d.said(within, s, e)
		cancel()
		if became != unknown {
			return became
		}
	}
	d.log.ErrorContext(ctx, "answer given up; where it stands it is not changed any more", "surface", s.Name(), "event", e.ID)
	return unknown
}

func wait(ctx context.Context, pause time.Duration) error {
	t := time.NewTimer(pause)
	defer t.Stop()
	select {
	case <-t.C:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}

// The answer to a message is changed with it for a day. The figures are ours.
const (
	answerLife = 24 * time.Hour
	answerMost = 5000
)

// answer is what became of one message of somebody. Whoever works on it holds
// turn, so that an edit waits for the answer that it changes.
type answer struct {
	turn chan struct{} // holds one while nobody works on it

	taken bool
	text  [sha256.Size]byte // its sum: messages may be long
	at    time.Time         // when it got that text
	ref   Ref               // the answer; empty: there is none
}

func newAnswer() *answer {
	a := &answer{turn: make(chan struct{}, 1)}
	a.turn <- struct{}{}
	return a
}

// answerTo is the answer to a message; nil for an event that no message began,
// such as a command.
func (d *Dispatcher) answerTo(s Surface, message Ref) *answer {
	if message == "" {
		return nil
	}
	var a *answer
	d.answers.With(s.Name()+"/"+string(message), d.now(), newAnswer, func(have **answer, _ bool) { a = *have })
	return a
}

// old says that an event brings nothing new to the answer: a message that came
// again, an edit that a later one overtook, an edit that left the text as it
// was (services send one when they unfold a link).
func (a *answer) old(e Event) bool {
	return a.taken && (e.Kind == MessagePosted || e.At.Before(a.at) || sha256.Sum256([]byte(e.Text)) == a.text)
}

// take remembers what is being answered.
func (a *answer) take(e Event) {
	a.taken, a.text, a.at = true, sha256.Sum256([]byte(e.Text)), e.At
}
