package outbox

import (
	"context"
	"errors"
	"fmt"
	"runtime/debug"
	"strings"
	"time"
)

// attemptResult is how a claim's attempt ended for those behind it of the same ordering key.
type attemptResult struct {
	over bool      // sent, found or given up: the next may go
	due  time.Time // otherwise, when this one is tried again
	err  error     // of the queue
}

// markWithin is how long the queue may take for a mark when everything else
// is being stopped.
const markWithin = 5 * time.Second

// attempt takes one claim from its lease to its mark. at is the time just
// before the lease began.
func (o *Outbox) attempt(ctx context.Context, c Claim, at time.Time) attemptResult {
	surface := Surface(c.Channel)
	l := o.breakers[surface]
	if l == nil {
		return o.giveUp(ctx, c, fmt.Sprintf("no surface %q for channel %q: %s; set it up, or change the channel in the configuration", surface, c.Channel, o.surfaces()))
	}

	begin := time.NewTimer(o.set.third() - o.since(at))
	defer begin.Stop()
	select {
	case l.room <- struct{}{}:
		defer func() { <-l.room }()
	case <-begin.C:
		return o.wait(ctx, c, o.now(), "no room within the lease")
	case <-ctx.Done():
		return o.wait(ctx, c, o.now(), "interrupted before it was tried")
	}
	if o.since(at) > o.set.third() {
		return o.wait(ctx, c, o.now(), "no time left in the lease")
	}
	if ctx.Err() != nil {
		return o.wait(ctx, c, o.now(), "interrupted before it was tried")
	}
	if again, ok := l.admit(c.Channel, o.now(), o.set.backoff(1)); !ok {
		return o.wait(ctx, c, again, surface+" rests after failures")
	}

	sending, cancel := context.WithTimeout(ctx, o.set.third())
	defer cancel()
	ref, outcome, err := o.send(sending, l.sender, c, at)
	now := o.now()
	var retry RetryAfterError
	switch {
	case err == nil:
		l.answered(c.Channel, time.Time{})
		return o.done(ctx, c, ref, outcome)
	case errors.Is(err, errNoTime):
		l.interrupted()
		return o.wait(ctx, c, now, err.Error())
	case IsPermanent(err):
		l.answered(c.Channel, time.Time{})
		return o.giveUp(ctx, c, err.Error())
	case ctx.Err() != nil:
		l.interrupted()
		return o.wait(ctx, c, now, "interrupted: "+err.Error())
	}
	due := now.Add(o.set.backoff(c.Attempt))
	if errors.As(err, &retry) && retry.RetryAfter() > 0 {
		due = now.Add(o.set.asked(retry.RetryAfter()))
		l.answered(c.Channel, due)
	} else {
		l.failed(now, o.set.backoff)
	}
	if c.Attempt >= o.set.MaxAttempts && now.Sub(c.Due) >= o.set.MaxAge {
		return o.giveUp(ctx, c, fmt.Sprintf("%d attempts, the last: %v", c.Attempt, err))
	}
	o.log.WarnContext(ctx, "post failed", "key", c.Key, "channel", c.Channel, "attempt", c.Attempt, "again", due, "err", err)
	return attemptResult{due: due, err: o.later(ctx, c, due, Retried, err.Error())}
}

// errNoTime: the lookup took what the lease had left for sending.
var errNoTime = errors.New("no time left in the lease after the lookup")

// send looks the post up where it may stand already, and posts it where it
// does not. A panic of a surface is that surface's failure.
func (o *Outbox) send(ctx context.Context, s Sender, c Claim, at time.Time) (ref string, outcome Outcome, err error) {
	defer func() {
		if p := recover(); p != nil {
			o.log.ErrorContext(ctx, "surface panicked", "key", c.Key, "channel", c.Channel, "stack", string(debug.Stack()))
			err = fmt.Errorf("%s panicked: %v", Surface(c.Channel), p)
		}
	}()
	under, root, err := o.under(ctx, s, c)
	if err != nil {
		return "", "", err
	}
	if c.Attempt > 1 || c.MaybeSent {
		var found bool
		if under != nil {
			ref, found, err = under.FindUnder(ctx, root, c.Key)
		} else {
			ref, found, err = s.Find(ctx, c.Channel, c.Key)
		}
		if err != nil {
			return "", "", fmt.Errorf("it may have been posted before, and looking it up failed: %w", err)
		}
		if found {
			return ref, Found, nil
		}
	}
	p := Post{Key: c.Key, Channel: c.Channel, Body: c.Body}
	if late := o.now().Sub(c.Due); late >= o.set.LateAfter {
		p.Late = late
	}
	// A process that was stopped, or a machine that slept, must not wake up
	// here and send what another has taken over.
	if err := ctx.Err(); err != nil {
		return "", "", err
	}
	if o.since(at) > 2*o.set.third() {
		return "", "", errNoTime
	}
	if under != nil {
		ref, err = under.SendUnder(ctx, p, root)
	} else {
		ref, err = s.Send(ctx, p)
	}
	return ref, Sent, err
}

// under is where an item stands in a thread: nil where it has none, its surface
// has none, or what it would stand under was given up.
func (o *Outbox) under(ctx context.Context, s Sender, c Claim) (t Threaded, root string, err error) {
	t, ok := s.(Threaded)
	if !ok || c.Under() == "" || o.set.Root == nil {
		return nil, "", nil
	}
	if root, err = o.set.Root(ctx, c.Channel, c.Under()); err != nil {
		return nil, "", fmt.Errorf("the post above it is not known: %w", err)
	}
	if root == "" {
		return nil, "", nil
	}
	return t, root, nil
}

// since is the time that has passed, by the steady clock or the one on the
// wall, whichever has gone further: the first stands still while a machine
// sleeps, and the store's does not.
func (o *Outbox) since(at time.Time) time.Duration {
	now := o.now()
	return max(now.Sub(at), now.Round(0).Sub(at.Round(0)))
}

// mark gives the queue a moment of its own, so that what happened is written
// down although everything else is being stopped.
func (o *Outbox) mark(ctx context.Context, c Claim, outcome Outcome, do func(context.Context) (bool, error)) error {
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), markWithin)
	defer cancel()
	held, err := do(ctx)
	lag := o.now().Sub(c.Due)
	switch {
	case err != nil:
		o.log.ErrorContext(ctx, "outbox cannot mark; the item comes back when its lease ends", "key", c.Key, "channel", c.Channel, "attempt", c.Attempt, "outcome", outcome, "err", err)
		outcome, err = Failed, fmt.Errorf("outbox mark %s on %s: %w", c.Key, c.Channel, err)
	case !held:
		o.log.WarnContext(ctx, "lease lost before the mark", "key", c.Key, "channel", c.Channel, "attempt", c.Attempt, "outcome", outcome)
		outcome = Lost
	}
	o.set.Meter.Attempt(Surface(c.Channel), outcome, lag)
	return err
}

func (o *Outbox) done(ctx context.Context, c Claim, ref string, outcome Outcome) attemptResult {
	if o.set.Sent != nil {
		telling, cancel := context.WithTimeout(context.WithoutCancel(ctx), markWithin)
		err := o.set.Sent(telling, c.Item, ref)
		cancel()
		if err != nil {
			due := o.now().Add(o.set.backoff(c.Attempt))
			o.log.ErrorContext(ctx, "post delivered, and what it is not kept; looked up again", "key", c.Key, "channel", c.Channel, "attempt", c.Attempt, "again", due, "err", err)
			return attemptResult{due: due, err: o.later(ctx, c, due, Retried, "delivered, and not kept: "+err.Error())}
		}
	}
	o.log.InfoContext(ctx, "post delivered", "key", c.Key, "channel", c.Channel, "attempt", c.Attempt, "outcome", outcome)
	return attemptResult{over: true, err: o.mark(ctx, c, outcome, func(ctx context.Context) (bool, error) {
		return o.queue.Done(ctx, c, storable(ref), o.now())
	})}
}

// giveUp ends an item without success, as loudly as can be.
func (o *Outbox) giveUp(ctx context.Context, c Claim, reason string) attemptResult {
	o.log.ErrorContext(ctx, "post given up: it will not reach its channel", "key", c.Key, "channel", c.Channel, "attempt", c.Attempt, "due", c.Due, "reason", reason)
	return attemptResult{over: true, err: o.mark(ctx, c, GaveUp, func(ctx context.Context) (bool, error) {
		return o.queue.GiveUp(ctx, c, brief(reason), o.now())
	})}
}

// wait gives a claim back untried.
func (o *Outbox) wait(ctx context.Context, c Claim, due time.Time, reason string) attemptResult {
	return attemptResult{due: due, err: o.later(ctx, c, due, Waited, reason)}
}

func (o *Outbox) later(ctx context.Context, c Claim, due time.Time, outcome Outcome, reason string) error {
	return o.mark(ctx, c, outcome, func(ctx context.Context) (bool, error) {
		return o.queue.Later(ctx, c, due, brief(reason))
	})
}

// brief bounds what is stored of a reason, and makes it a text that every
// store takes.
func brief(s string) string {
	const most = 500
	if len(s) > most {
		s = s[:most]
	}
	return storable(s)
}

// storable leaves out what a database's text cannot hold.
func storable(s string) string {
	return strings.ReplaceAll(strings.ToValidUTF8(s, ""), "\x00", "")
}
