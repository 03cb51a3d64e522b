package chat

import (
	"context"
	"log/slog"
	"strings"
	"time"
)

// The figures are ours.
const (
	// EventHold is longer than an answer may take.
	EventHold = 32 * time.Second
	// EventLease is longer than any service goes on delivering an event again.
	EventLease = 15 * time.Minute
	// writtenMost is how long a message that is answered waits for its record.
	writtenMost = 5 * time.Second
)

// Leases are names that one holder has for a while; a store has them.
type Leases interface {
	Lease(ctx context.Context, name, holder string, d time.Duration) (held bool, err error)
}

// Writer says when what was answered is kept; a record.Book is one.
type Writer interface {
	Written(ctx context.Context) error
}

// Taking says who takes an event that several processes get: it is one's for as
// long as an answer may take, and for good once it is answered and written. A
// process that dies between leaves it to the others. A process that is alone
// only waits for what it has answered to be written: nobody else could write it.
type Taking struct {
	Log     *slog.Logger
	Leases  Leases // nil: this process is alone
	Holder  string // this process
	Records Writer
	Hold    time.Duration // zero: EventHold
	// Sole is a surface whose events go to one process, and whose answers are
	// known by their names: whoever asks there is not kept waiting for a store
	// that takes nothing.
	Sole string
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
	set.Hold, set.Once, set.Done = t.Hold, t.once, t.done
}

// once says whether an event is this process's.
func (t Taking) once(ctx context.Context, id string) (bool, error) {
	first, err := t.Leases.Lease(ctx, "event/"+id, t.Holder, t.Hold-time.Second)
	if err != nil && t.Sole != "" && strings.HasPrefix(id, t.Sole+"/") {
		return true, nil
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
	if _, err := t.Leases.Lease(ctx, "event/"+id, t.Holder, EventLease); err != nil {
		t.Log.WarnContext(ctx, "not kept that an event was answered", "event", id, "err", err)
	}
}
