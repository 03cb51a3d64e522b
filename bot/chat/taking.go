package chat

import (
	"context"
	"log/slog"
	"time"
)

// The figures are ours.
const (
	// EventHold is longer than an answer may take.
	EventHold = 32 * time.Second
	// EventLease is longer than any service goes on delivering an event again.
	EventLease = 15 * time.Minute
	// writtenMost is how long a message that is answered waits for its record.
	writtenMost = 5 * time.Second // and then for its mark
)

// Leases are names that one holder has for a while; a store has them.
type Leases interface {
	Lease(ctx context.Context, name, holder string, d time.Duration) (held bool, err error)
}

// Writer says when what was answered is kept, and is told whether the store is
// there; a record.Book is one.
type Writer interface {
	Written(ctx context.Context) error
	Heard(there bool)
}

// Taking says who takes an event that several processes get: it is one's for as
// long as an answer may take, and for good once it is answered and written. A
// process that dies between leaves it to the others. A process that is alone
// only waits for what it has answered to be written: nobody else could write it.
//
// A store that does not say within 250 ms whose an event is keeps nobody waiting
// who asks. Then the event is its owner's, which each process works out by itself
// from the processes that lived when the store last answered (Peers). The owner
// answers at once, marked as not kept, and goes on asking, so that its claim is
// written as soon as the store is back. The others wait for six seconds, each
// two longer than the one before it, and ask the store again. Whoever takes an event
// without the store's word looks at the service first for an answer that stands
// (Event.Again). So in each case:
//
//   - The store is gone for all: the owner has answered when the others look,
//     whether the store is back or not.
//   - It is back in the middle: nobody but the owner claims at that moment. The
//     others find its claim, and look after the event like after any other.
//   - What is asked for is something to do, such as a check: its owner waits for
//     the store for six seconds too, for without it nothing can be done.
//   - The owner is dead, by up to 30 s unknown to the others: the next one
//     answers after six seconds.
//   - A process has just started: it owns nothing before its second beat, when
//     all others have read of it. What they leave to it until then is answered
//     after six seconds.
//   - A process died and the others have read of it at different moments: for up
//     to ten seconds two may be the owner of the same event. Both look first.
//   - The store is gone for the owner alone: another has claimed and answered,
//     and the owner finds that. If the service shows that answer only later,
//     Discord's nonce still makes one of two; Slack shows both.
//   - The store is slow, not gone: the same as if it were gone, and the cards are
//     put right when it has taken their records. A claim that is told late is
//     the owner's, or is kept until the others' six seconds are over.
//   - A service that tells one process alone (Event.Sole) needs no owner. If it
//     tells again, that is not Sole.
//   - Both halves of what a service tells twice come to one process
//     (Event.Paired): nobody else has heard of it, and it is answered then.
type Taking struct {
	Log     *slog.Logger
	Leases  Leases // nil: this process is alone
	Peers   *Peers // nil: every event is this process's own
	Holder  string // this process
	Records Writer
	Hold    time.Duration // zero: EventHold
}

// Use has a dispatcher's settings take events so.
func (t Taking) Use(set *Settings) {
	set.Done = t.done
	if t.Leases == nil {
		return
	}
	if t.Hold <= 0 {
		t.Hold = EventHold
	}
	set.Hold, set.Once, set.Gone = t.Hold, t.once, func() { t.Records.Heard(false) }
	if t.Peers != nil {
		set.Turn = t.Peers.Turn
	}
}

// once says whether an event is this process's.
func (t Taking) once(ctx context.Context, id string) (bool, error) {
	first, err := t.Leases.Lease(ctx, "event/"+id, t.Holder, t.Hold-time.Second)
	if err == nil {
		t.Records.Heard(true)
	}
	return first, err
}

// done keeps that an event was answered, once its record is written: else the
// record would be lost with this process. The card stands already, so that it is
// not waited for long.
func (t Taking) done(ctx context.Context, id string) {
	waiting, cancel := context.WithTimeout(ctx, writtenMost)
	defer cancel()
	if err := t.Records.Written(waiting); err != nil {
		t.Log.WarnContext(ctx, "record not written yet", "err", err)
		return
	}
	if t.Leases == nil {
		return
	}
	keeping, cancel := context.WithTimeout(ctx, writtenMost)
	defer cancel()
	if _, err := t.Leases.Lease(keeping, "event/"+id, t.Holder, EventLease); err != nil {
		t.Log.WarnContext(ctx, "not kept that an event was answered", "event", id, "err", err)
	}
}
