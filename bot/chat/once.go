package chat

import (
	"context"
	"crypto/sha256"
	"time"

	"firn/bot/parse"
	"firn/bot/sleep"
)

// Services send an event again within minutes. The figures are ours.
const (
	onceLife = time.Hour
	onceMost = 50000
)

// arrival is an event that has come.
type arrival struct {
	taken chan struct{} // closed when it was taken
	both  chan struct{} // closed when the other half of a pair came here too; nil: it is none
}

func arrivalOf(e *Event) arrival {
	a := arrival{taken: make(chan struct{})}
	if e.Paired {
		a.both = make(chan struct{})
	}
	return a
}

// again notes that it came another time.
func (a *arrival) again(e *Event) {
	if !e.Paired || a.both == nil {
		return
	}
	select {
	case <-a.both:
	default:
		close(a.both)
	}
}

// first says whether this is the first time that an event comes; taken is
// closed when it was taken then. An event without an id cannot be known again.
// others says that another process has it, and that it is a message that must
// be answered if that one dies.
func (d *Dispatcher) first(ctx context.Context, s Surface, e *Event) (first, others bool, taken chan struct{}) {
	if e.ID == "" {
		return true, false, make(chan struct{})
	}
	var came arrival
	d.seen.With(eventID(s, *e), d.now(), func() arrival { return arrivalOf(e) }, func(a *arrival, fresh bool) {
		if first, came = fresh, *a; !fresh {
			a.again(e)
		}
	})
	if !first || d.set.Once == nil {
		return first, false, came.taken
	}
	if d.ours(ctx, s, e, came.both) {
		return true, false, came.taken
	}
	close(came.taken)
	return false, d.set.Hold > 0 && e.Message != "" && (e.Kind == MessagePosted || e.Kind == Edited), nil
}

// eventID is an event's name among those of all surfaces.
func eventID(s Surface, e Event) string { return s.Name() + "/" + e.ID }

// The figures are ours: a person who asks waits for 300 ms at most more than
// ever, and a store that starts again is back within seconds.
const (
	storeLimit = 250 * time.Millisecond // for the store to say whose an event is
	othersWait = 6 * time.Second        // of whoever leaves it to its owner
	turnsApart = 2 * time.Second        // of two that wait, so that one finds the other's answer
	askPause   = 25 * time.Millisecond  // between two tries, doubled each time
	askApart   = 200 * time.Millisecond // at most
)

// ours asks the store whether the event is this process's. Where it does not say
// so in time, the event's owner takes it, and whoever is not leaves it to that
// one: see Taking.
func (d *Dispatcher) ours(ctx context.Context, s Surface, e *Event, both <-chan struct{}) bool {
	id, turn := eventID(s, *e), func() int { return 0 }
	if !e.Sole && d.set.Turn != nil {
		turn = func() int { return d.set.Turn(id) }
	}
	said := d.ask(ctx, id, func() bool { return turn() == 0 })
	limit := storeLimit
	if parse.VerbOf(e.Text).Does() || e.Fields[FieldRecord] != "" {
		limit = othersWait // without the store nothing can be done
	}
	in := time.NewTimer(limit)
	defer in.Stop()
	select {
	case a := <-said:
		if a.err == nil {
			return a.ours
		}
	case <-in.C:
	}
	if d.set.Gone != nil {
		d.set.Gone()
	}
	n := turn()
	if n > 0 && !d.leave(ctx, id, said, both, othersWait+time.Duration(n-1)*turnsApart) {
		return false
	}
	// An owner looks too: where the store is gone for it alone another has answered.
	e.Again = e.Again || !e.Sole
	d.log.WarnContext(ctx, "not known whether another took the event; taken", "surface", s.Name(), "event", e.ID, "turn", n)
	return true
}

// leave leaves an event to its owner for a while; whether it is this process's
// all the same.
func (d *Dispatcher) leave(ctx context.Context, id string, said <-chan claim, both <-chan struct{}, pause time.Duration) bool {
	waited := time.NewTimer(pause)
	defer waited.Stop()
	for claimed := false; ; {
		select {
		case <-both: // nobody else has heard of it
			return true
		case a := <-said:
			if a.err == nil && !a.ours {
				return false
			}
			// One that the store says late is this process's may have been
			// answered by its owner before.
			said, claimed = nil, a.err == nil
		case <-ctx.Done():
			return true
		case <-waited.C:
			if claimed || said != nil {
				return true // or the store still says nothing
			}
			in := time.NewTimer(storeLimit)
			defer in.Stop()
			select {
			case a := <-d.ask(ctx, id, func() bool { return false }):
				return a.err != nil || a.ours
			case <-in.C:
				return true
			}
		}
	}
}

// claim is what the store says of an event.
type claim struct {
	ours bool
	err  error
}

// ask asks the store whose an event is, and tells it once. An owner goes on
// asking for as long as others leave the event to it, so that they find whose it
// is as soon as the store is back.
func (d *Dispatcher) ask(ctx context.Context, id string, mine func() bool) <-chan claim {
	said := make(chan claim, 1)
	d.lookedAfter.Go(func() {
		began := time.Now()
		ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), othersWait) // the answer may be out long before
		defer cancel()
		for pause := askPause; ; pause = min(2*pause, askApart) {
			ours, err := d.set.Once(ctx, id)
			if err == nil || time.Since(began)+pause > storeLimit && !mine() || sleep.For(ctx, pause) != nil {
				said <- claim{ours, err}
				return
			}
		}
	})
	return said
}

// later looks after a message that another process has, and takes it when
// that one has died: nobody else would, since the service has been told that
// the message came. It looks twice, since one that tries again keeps it longer.
func (d *Dispatcher) later(ctx context.Context, s Surface, e Event) {
	d.lookedAfter.Go(func() {
		e.Again = true
		for range 2 {
			if sleep.For(ctx, d.set.Hold) != nil {
				return // the one that has it goes on, or the service sends it again
			}
			if d.ours(ctx, s, &e, nil) {
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
		if sleep.For(ctx, againPause<<try) != nil || d.set.Once != nil && !d.ours(ctx, s, &e, nil) {
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
