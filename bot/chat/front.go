package chat

import (
	"context"
	"encoding/json"
	"sync"
	"time"

	"firn/bot"
	"firn/bot/bounded"
	"firn/bot/parse"
	"firn/bot/reply"
	"firn/bot/request"
)

// How front pages are kept up to date. The figures are ours; Slack takes some
// hundred front pages a minute of an app (its rate limits, tier 4).
const (
	frontLife  = 12 * time.Hour // a person who has opened one is at work so long
	frontMost  = 500            // people at once
	frontWait  = 2 * time.Second
	frontEvery = time.Second // between two that are shown
	frontShare = 20          // at most this part of the time is for working them out
)

// fronts are the front pages that people have opened.
type fronts = bounded.Map[string, *frontPage]

// frontPage is one person's: its event is what asks for it again.
type frontPage struct {
	turn  sync.Mutex // held while it is worked out and shown, so that the later stands
	on    Fronted
	event Event
	shown string // what stands there
}

// homeOpened shows what concerns a person on the surface's front page for them,
// which is kept up to date from then on, as long as the person belongs to the unit
// and this process runs: after a restart it is so from when it is opened again.
func (d *Dispatcher) homeOpened(ctx context.Context, s Surface, e Event) {
	front, ok := s.(Fronted)
	if !ok {
		return
	}
	e.Place = Place{Home: e.Place.Home, Direct: true} // no thread: nothing follows
	key := s.Name() + "/" + e.Person.ID
	var p *frontPage
	d.fronts.With(key, d.now(), func() *frontPage { return &frontPage{} }, func(have **frontPage, _ bool) { p = *have })
	p.turn.Lock()
	defer p.turn.Unlock()
	p.on, p.event, p.shown = front, e, "" // who opens it has it anew
	d.front(ctx, p, d.answerer.Handle)
}

// front shows a page where it is not what stands there; p's turn is the
// caller's. It says whether it was shown.
func (d *Dispatcher) front(ctx context.Context, p *frontPage, answer handle) bool {
	c, ok := d.workBy(ctx, answer, p.on, p.event, parse.Mine.String(), "")
	if !ok {
		return false
	}
	is, err := json.Marshal(c.Reply)
	if err == nil && string(is) == p.shown {
		return false
	}
	if err == nil {
		err = p.on.Front(ctx, p.event, c)
	}
	d.failed(ctx, p.on, p.event, "front page not shown", err)
	if err == nil {
		p.shown = string(is)
	}
	return true
}

// KeepFronts brings the front pages that are open up to date when changed says
// that something is not as they show it, several changes at once, until the
// context ends.
func (d *Dispatcher) KeepFronts(ctx context.Context, changed <-chan struct{}) error {
	for {
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-changed:
		}
		if err := wait(ctx, frontWait); err != nil {
			return err
		}
		select { // what came meanwhile is in what is read now
		case <-changed:
		default:
		}
		worked, answer := time.Duration(0), d.readOnce(ctx)
		for _, p := range d.openFronts() {
			began := time.Now()
			shown := d.renew(ctx, p, answer)
			if worked += time.Since(began); !shown {
				continue
			}
			if err := wait(ctx, frontEvery); err != nil {
				return err
			}
		}
		if err := wait(ctx, min(frontShare*worked, time.Minute)); err != nil {
			return err
		}
	}
}

// readOnce answers for many front pages from what is read for the first of them,
// where the answerer can.
func (d *Dispatcher) readOnce(ctx context.Context) handle {
	homer, ok := d.answerer.(Homer)
	if !ok {
		return d.answerer.Handle
	}
	read := sync.OnceValues(func() (func(bot.Message) reply.Reply, error) {
		ctx, cancel := context.WithTimeout(ctx, d.set.Limit)
		defer cancel()
		return homer.Homes(ctx, d.now())
	})
	return func(_ context.Context, m bot.Message) (reply.Reply, error) {
		of, err := read()
		if err != nil {
			return reply.Reply{}, err
		}
		return of(m), nil
	}
}

// renew brings one page up to date.
func (d *Dispatcher) renew(ctx context.Context, p *frontPage, answer handle) bool {
	p.turn.Lock()
	defer p.turn.Unlock()
	if p.on == nil {
		return false // it is opened at this moment
	}
	ctx, cancel := context.WithTimeout(request.With(ctx, p.on.Name(), p.event.ID), d.set.Limit+grace)
	defer cancel()
	p.event.At = d.now()
	p.event.Person = p.on.Who(ctx, p.event.Person)
	switch p.event.Person.Standing {
	case Outsider:
		d.outside(ctx, p.on, p.event)
		d.fronts.Drop(p.on.Name() + "/" + p.event.Person.ID)
		return true
	case Unsure:
		return false // it stays as it is until the service says
	}
	return d.front(ctx, p, answer)
}

// openFronts are the pages that were opened lately.
func (d *Dispatcher) openFronts() (all []*frontPage) {
	for _, key := range d.fronts.Keys() {
		if p, ok := d.fronts.Get(key, d.now()); ok {
			all = append(all, p)
		}
	}
	return all
}
