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
	"firn/bot/sleep"
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

// Fronts are the front pages that people have opened. They go on with the next
// dispatcher where the configuration is read again. Safe for use by several
// goroutines.
type Fronts struct {
	open *bounded.Map[string, *frontPage]
}

// NewFronts are none yet.
func NewFronts() *Fronts {
	return &Fronts{bounded.New[string, *frontPage](frontMost, frontLife)}
}

// frontPage is one person's: its event is what asks for it again.
type frontPage struct {
	turn  sync.Mutex // held while it is worked out and shown, so that the later stands
	on    string     // the surface; empty: it is opened at this moment
	event Event
	shown string // what stands there
}

// homeOpened shows what concerns a person on the surface's front page for them,
// which is kept up to date from then on, as long as the person belongs to the unit
// and this process runs: after a restart it is so from when it is opened again.
// Whoever opens it too often is not shown it anew each time.
func (d *Dispatcher) homeOpened(ctx context.Context, s Surface, e Event) {
	front, ok := s.(Fronted)
	if !ok {
		return
	}
	e.Place = Place{Home: e.Place.Home, Direct: true} // no thread: nothing follows
	key := s.Name() + "/" + e.Person.ID
	var p *frontPage
	d.set.Fronts.open.With(key, d.now(), func() *frontPage { return &frontPage{} }, func(have **frontPage, _ bool) { p = *have })
	p.turn.Lock()
	defer p.turn.Unlock()
	p.on, p.event, p.shown = s.Name(), e, "" // who opens it has it anew
	d.front(ctx, front, p, d.answerer.Handle)
}

// front shows a page where it is not what stands there; p's turn is the
// caller's. It says whether it was shown.
func (d *Dispatcher) front(ctx context.Context, on Fronted, p *frontPage, answer handle) bool {
	c, ok := d.workBy(ctx, answer, on, p.event, parse.Mine.String(), "")
	if !ok {
		return false
	}
	is, err := json.Marshal(c.Reply)
	if err == nil && string(is) == p.shown {
		return false
	}
	if err == nil {
		err = on.Front(ctx, p.event, c)
	}
	d.failed(ctx, on, p.event, "front page not shown", err)
	if err == nil {
		p.shown = string(is)
	}
	return true
}

// KeepFronts brings the front pages that are open on surfaces up to date when
// changed says that something is not as they show it, several changes at once, until
// the context ends. Those of the dispatcher before this one it looks at first.
func (d *Dispatcher) KeepFronts(ctx context.Context, changed <-chan struct{}, on ...Surface) error {
	surfaces := map[string]Fronted{}
	for _, s := range on {
		if front, ok := s.(Fronted); ok {
			surfaces[s.Name()] = front
		}
	}
	for before := d.set.Fronts.open.Len() > 0; ; before = false {
		if !before {
			select {
			case <-ctx.Done():
				return ctx.Err()
			case <-changed:
			}
		}
		if err := sleep.For(ctx, frontWait); err != nil {
			return err
		}
		select { // what came meanwhile is in what is read now
		case <-changed:
		default:
		}
		worked, answer := time.Duration(0), d.readOnce(ctx)
		for _, p := range d.openFronts() {
			began := time.Now()
			shown := d.renew(ctx, surfaces, p, answer)
			if worked += time.Since(began); !shown {
				continue
			}
			if err := sleep.For(ctx, frontEvery); err != nil {
				return err
			}
		}
		if err := sleep.For(ctx, min(frontShare*worked, time.Minute)); err != nil {
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
	read := sync.OnceValues(func() (bot.HomeOf, error) {
		ctx, cancel := context.WithTimeout(ctx, d.set.Limit)
		defer cancel()
		return homer.Homes(ctx, d.now())
	})
	return func(ctx context.Context, m bot.Message) (reply.Reply, error) {
		of, err := read()
		if err != nil {
			return reply.Reply{}, err
		}
		return of(ctx, m)
	}
}

// renew brings one page up to date.
func (d *Dispatcher) renew(ctx context.Context, surfaces map[string]Fronted, p *frontPage, answer handle) bool {
	p.turn.Lock()
	defer p.turn.Unlock()
	on, ok := surfaces[p.on]
	switch {
	case !ok:
		return false
	case !d.Answers(on, p.event.Place): // the configuration names another home now
		d.set.Fronts.open.Drop(p.key())
		return false
	}
	ctx, cancel := context.WithTimeout(request.With(ctx, p.on, p.event.ID), d.set.Limit+grace)
	defer cancel()
	p.event.At = d.now()
	p.event.Person = on.Who(ctx, p.event.Person)
	switch p.event.Person.Standing {
	case Outsider:
		d.outside(ctx, on, p.event)
		d.set.Fronts.open.Drop(p.key())
		return true
	case Unsure:
		return false // it stays as it is until the service says
	}
	return d.front(ctx, on, p, answer)
}

// key is what a page is kept by.
func (p *frontPage) key() string { return p.on + "/" + p.event.Person.ID }

// openFronts are the pages that were opened lately.
func (d *Dispatcher) openFronts() (all []*frontPage) {
	for _, key := range d.set.Fronts.open.Keys() {
		if p, ok := d.set.Fronts.open.Get(key, d.now()); ok {
			all = append(all, p)
		}
	}
	return all
}
