package outbox

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"maps"
	"slices"
	"strings"
	"sync"
	"time"
)

// Clock tells the time; time.Now is one.
type Clock func() time.Time

// Outbox takes items from a queue to their surfaces. It is safe for
// concurrent use, and several processes may have one on the same queue.
type Outbox struct {
	log      *slog.Logger
	now      Clock
	queue    Queue
	breakers map[string]*circuitBreaker
	set      Settings
	kick     chan struct{}
}

// New makes an Outbox. senders are by surface: "slack", "discord", "page",
// "console", "file".
func New(log *slog.Logger, clock Clock, q Queue, senders map[string]Sender, s Settings) *Outbox {
	o := &Outbox{log: log, now: clock, queue: q, set: s.withDefaults(), kick: make(chan struct{}, 1)}
	o.breakers = make(map[string]*circuitBreaker, len(senders))
	for surface, sender := range senders {
		o.breakers[surface] = newBreaker(sender, o.set.Concurrency)
	}
	return o
}

// Kick wakes Run: something was put into the queue. It never waits.
func (o *Outbox) Kick() {
	select {
	case o.kick <- struct{}{}:
	default:
	}
}

// Backlog is what waits in the queue.
func (o *Outbox) Backlog(ctx context.Context) (Backlog, error) {
	b, err := o.queue.Backlog(ctx)
	if err != nil {
		return Backlog{}, fmt.Errorf("outbox backlog: %w", err)
	}
	return b, nil
}

// Deliver does one round: it claims a batch, makes an attempt at each and
// waits for all of them. n is how many were claimed, so that a caller who
// wants everything that is due delivered goes on until it is 0. The error is
// the queue's; what surfaces say goes to the log and decides when an item is
// tried again.
func (o *Outbox) Deliver(ctx context.Context) (n int, err error) {
	groups, n, err := o.claim(ctx, o.set.Batch)
	if err != nil {
		return 0, err
	}
	errs := make([]error, len(groups))
	var attempts sync.WaitGroup
	for i, g := range groups {
		attempts.Go(func() { errs[i] = o.deliver(ctx, g) })
	}
	attempts.Wait()
	return n, errors.Join(errs...)
}

// Run delivers until the context ends, and returns its error once every
// attempt under way has ended. It looks at the queue after a Kick, when an
// attempt has ended, and every Poll.
func (o *Outbox) Run(ctx context.Context) error {
	var attempts sync.WaitGroup
	defer attempts.Wait()
	ended := make(chan int, o.set.Outstanding)
	out, fails := 0, 0
	timer := time.NewTimer(0)
	defer timer.Stop()
	o.sayTaken(ctx)
	for {
		pause, full := o.set.Poll, out+o.set.Batch > o.set.Outstanding
		if !full {
			groups, n, err := o.claim(ctx, o.set.Batch)
			if err != nil && ctx.Err() == nil {
				fails++
				pause = max(pause, o.set.backoff(fails))
				o.log.ErrorContext(ctx, "outbox cannot claim", "err", err, "again_in", pause)
			} else {
				fails = 0
			}
			out += n
			for _, g := range groups {
				attempts.Go(func() {
					// Logged where it happened; the item comes back when its
					// lease ends.
					_ = o.deliver(ctx, g)
					ended <- len(g.claims)
				})
			}
			if n >= o.set.Batch && ctx.Err() == nil {
				continue
			}
		}
		timer.Reset(pause)
		wake := o.kick
		if full || fails > 0 {
			wake = nil // it changes nothing now, and stays there
		}
		select {
		case <-ctx.Done():
			return ctx.Err()
		case n := <-ended:
			out -= n
		case <-wake:
		case <-timer.C:
		}
	}
}

// sayTaken logs what waits for another process, which may have been killed: until
// its lease ends nobody sends that.
func (o *Outbox) sayTaken(ctx context.Context) {
	q, ok := o.queue.(Taker)
	if !ok {
		return
	}
	if n, longest, err := q.Taken(ctx); err == nil && n > 0 {
		o.log.InfoContext(ctx, "posts are another process's to send; if that one is gone they are sent when its leases have ended", "posts", n, "until", o.now().Add(longest).UTC())
	}
}

// ordered are the claims of one ordering key on one channel, in order, with the
// time at which they were asked for.
type ordered struct {
	claims []Claim
	at     time.Time
}

// claim takes up to limit items and sorts them by their ordering keys.
func (o *Outbox) claim(ctx context.Context, limit int) (groups []*ordered, n int, err error) {
	at := o.now() // before the store's lease begins, never after
	claims, err := o.queue.Claim(ctx, at, o.set.Lease, limit)
	if err != nil {
		return nil, 0, fmt.Errorf("outbox claim: %w", err)
	}
	type name struct{ channel, key string }
	byName := map[name]*ordered{}
	for _, c := range claims {
		word, _ := c.OrderingKey()
		k := name{c.Channel, word}
		if byName[k] == nil {
			byName[k] = &ordered{at: at}
			groups = append(groups, byName[k])
		}
		byName[k].claims = append(byName[k].claims, c)
	}
	for _, g := range groups {
		slices.SortStableFunc(g.claims, func(a, b Claim) int {
			_, x := a.OrderingKey()
			_, y := b.OrderingKey()
			return cmp.Compare(x, y)
		})
	}
	return groups, len(claims), nil
}

// deliver makes an attempt at each claim of an ordering key, in order; the first
// that has to wait keeps those behind it waiting too.
func (o *Outbox) deliver(ctx context.Context, g *ordered) error {
	var errs []error
	for i, c := range g.claims {
		v := o.attempt(ctx, c, g.at)
		errs = append(errs, v.err)
		if v.over {
			continue
		}
		for _, behind := range g.claims[i+1:] {
			errs = append(errs, o.later(ctx, behind, v.due, Waited, "an earlier post on the same waits"))
		}
		break
	}
	return errors.Join(errs...)
}

// surfaces names those that are there, for people.
func (o *Outbox) surfaces() string {
	if len(o.breakers) == 0 {
		return "none is set up"
	}
	return "set up are " + strings.Join(slices.Sorted(maps.Keys(o.breakers)), ", ")
}
