package chat

import (
	"context"
	"errors"
	"log/slog"
	"strings"
	"sync"
	"time"

	"firn/bot/bounded"
	"firn/bot/outbox"
	"firn/bot/reply"
	"firn/bot/request"
)

// Dispatcher takes what people do on chat services and answers it. Safe for use by
// several goroutines and surfaces at once.
type Dispatcher struct {
	log      *slog.Logger
	now      func() time.Time
	answerer Answerer
	set      Settings

	seen      *bounded.Map[string, arrival] // by event id
	answers   *bounded.Map[string, *answer]
	people    *bounded.Map[string, asker]
	appearing appearing
	elsewhere *bounded.Map[string, time.Time]

	atWork, waiting, apologies chan struct{}

	lookedAfter sync.WaitGroup // messages that another process has, and what is asked of the store

	mu       sync.Mutex
	idle     sync.Cond // no event is being taken
	inFlight int
}

var _ Handler = (*Dispatcher)(nil)

// New makes a dispatcher.
func New(log *slog.Logger, now func() time.Time, answerer Answerer, set Settings) *Dispatcher {
	set = set.withDefaults()
	d := &Dispatcher{
		log: log, now: now, answerer: answerer, set: set,
		seen:      bounded.New[string, arrival](onceMost, onceLife),
		answers:   bounded.New[string, *answer](answerMost, answerLife),
		people:    bounded.New[string, asker](askersMost, time.Duration(set.Burst)*set.Every),
		elsewhere: bounded.New[string, time.Time](elsewhereMost, elsewhereEvery),
		atWork:    make(chan struct{}, set.AtWork),
		waiting:   make(chan struct{}, set.Waiting),
		apologies: make(chan struct{}, 8),
	}
	d.idle.L = &d.mu
	return d
}

// Wait waits until no event is being taken; the surfaces have stopped before.
func (d *Dispatcher) Wait() {
	d.lookedAfter.Wait()
	d.mu.Lock()
	defer d.mu.Unlock()
	for d.inFlight > 0 {
		d.idle.Wait()
	}
}

func (d *Dispatcher) begin() {
	d.mu.Lock()
	d.inFlight++
	d.mu.Unlock()
}

func (d *Dispatcher) end() {
	d.mu.Lock()
	if d.inFlight--; d.inFlight == 0 {
		d.idle.Broadcast()
	}
	d.mu.Unlock()
}

// grace is what is left for saying that something took too long.
const grace = 5 * time.Second

// Handle takes an event.
func (d *Dispatcher) Handle(ctx context.Context, s Surface, e Event) {
	d.begin()
	defer d.end()
	if ctx.Err() != nil {
		return // firn is stopping; the service sends it again
	}
	ctx = request.With(ctx, s.Name(), e.ID)
	if !d.Answers(s, e.Place) {
		d.turnAway(ctx, s, e)
		return
	}
	whole := ctx
	ctx, cancel := context.WithTimeout(ctx, d.set.Limit+grace)
	defer cancel()
	first, others, taken := d.first(ctx, s, &e)
	if others {
		d.later(whole, s, e)
	}
	if !first {
		d.log.DebugContext(ctx, "event came again", "surface", s.Name(), "event", e.ID)
		if taken != nil {
			// Its service is told that it came when this returns, and does not send
			// it a third time should this process die over the first.
			select {
			case <-taken:
			case <-ctx.Done():
			}
		}
		return
	}
	defer close(taken)
	d.answer(ctx, whole, s, e)
}

// delivery is what became of an event.
type delivery uint8

const (
	done    delivery = iota // done, or there is nothing to do
	retry                   // a message without an answer: another process may try
	unknown                 // its answer may stand, and nobody knows where
)

// answer answers an event that is this process's, within ctx; what is left in
// doubt is tried again while whole lasts.
func (d *Dispatcher) answer(ctx, whole context.Context, s Surface, e Event) {
	if e.At.IsZero() {
		e.At = d.now()
	}
	became := d.react(ctx, s, e)
	if became == unknown {
		became = d.again(whole, s, e)
	}
	if became == retry && e.Waits {
		d.seen.Drop(eventID(s, e)) // the same form may be sent again
	}
	if became == done && d.set.Done != nil && e.ID != "" {
		d.set.Done(context.WithoutCancel(ctx), eventID(s, e))
	}
}

// react does what an event asks for.
func (d *Dispatcher) react(ctx context.Context, s Surface, e Event) delivery {
	if e.Kind == HomeOpened {
		if wait, _ := d.flooded(s, e.Person, ofHome); wait > 0 {
			return done // what stands there is some seconds old, and is kept up to date
		}
	}
	if e.Person.Standing != Member && d.outside(ctx, s, e) {
		return done
	}
	switch e.Kind {
	case HomeOpened:
		d.homeOpened(ctx, s, e)
		return done
	case Deleted:
		return d.deleted(ctx, s, e)
	}
	of := asked
	if e.Unmentioned {
		of = heard
	}
	if wait, tell := d.flooded(s, e.Person, of); wait > 0 {
		d.log.DebugContext(ctx, "too much from one person", "surface", s.Name(), "person", e.Person.ID, "wait", wait)
		if e.Waits {
			d.notTaken(ctx, s, e, tooMany(wait, "Send it again then."))
			return retry
		}
		if tell && !e.Unmentioned {
			d.whisper(ctx, s, e, tooMany(wait, "What you send before that gets no answer."))
		}
		return done
	}
	switch e.Kind {
	case MessagePosted, Edited:
		return d.said(ctx, s, e)
	case Pressed:
		d.pressed(ctx, s, e)
	case Unfolded:
		d.unfolded(ctx, s, e)
	case FormRequested:
		d.failed(ctx, s, e, "form not opened", s.Open(ctx, e, d.filled(e.Text)))
	case Submitted:
		d.submitted(ctx, s, e)
	default:
		d.log.WarnContext(ctx, "event of an unknown kind", "surface", s.Name(), "event", e.ID, "kind", e.Kind)
	}
	return done
}

// said answers a message, or changes the answer of one that was edited.
func (d *Dispatcher) said(ctx context.Context, s Surface, e Event) (became delivery) {
	a := d.answerTo(s, e.Message)
	if a != nil {
		select {
		case <-a.turn:
			defer func() { a.turn <- struct{}{} }()
		case <-ctx.Done():
			d.failed(ctx, s, e, "edit not answered", ctx.Err())
			return retry
		}
		if a.old(e) {
			return done
		}
		a.take(e)
		defer func() { a.taken = became == done }()
	}
	if !d.may(ctx, s, e, e.Text) {
		return done
	}
	var instead Ref
	if a != nil {
		if a.ref == "" && e.Kind == Edited {
			a.ref = d.recalled(ctx, s, e)
		}
		instead = a.ref
	}
	c, ok := d.work(ctx, s, e, e.Text, instead)
	if !ok {
		return retry
	}
	if instead == "" && d.keptFromAll(ctx, s, e, c) {
		return done
	}
	talk := c.Reply.Kind == reply.KindNote || c.Reply.Kind == reply.KindHelp
	if talk && instead != "" && e.Kind == Edited && d.unasked(ctx, s, e, instead) {
		if c.Reply.Kind == reply.KindNote {
			return done
		}
		a.ref = "" // help is an answer of its own: others may fly by the card
	}
	if a != nil && a.ref != "" {
		c.Awaited = true
		err := s.Change(ctx, a.ref, c)
		if err == nil {
			d.shown(ctx, s, a.ref, c, true)
		}
		if err == nil || ctx.Err() != nil {
			d.failed(ctx, s, e, "answer not changed", err)
			return deliveryOf(err)
		}
		// It may have been deleted; the edit is answered anew.
		d.log.WarnContext(ctx, "answer not changed; answered anew", "surface", s.Name(), "event", e.ID, "err", err)
	}
	ref, err := d.show(ctx, s, e, c, "answer not shown")
	d.full(ctx, s, e, err)
	if a != nil && err == nil {
		a.ref = ref
	}
	return deliveryOf(err)
}

// recalled is the card that answers an edited message and that this process
// has not shown.
func (d *Dispatcher) recalled(ctx context.Context, s Surface, e Event) Ref {
	r, ok := s.(Recalling)
	if !ok {
		return ""
	}
	ref, _, err := r.AnswerTo(ctx, e.Message)
	d.failed(ctx, s, e, "answer to an edited message not found", err)
	return ref
}

// deliveryOf is what became of a message whose answer a surface was to show. Only
// a refusal says that nothing stands: after any other failure the service may
// have taken the answer, and the way back was lost.
func deliveryOf(err error) delivery {
	var busy outbox.RetryAfterError
	switch {
	case err == nil:
		return done
	case errors.As(err, &busy) || outbox.IsPermanent(err):
		return retry
	}
	return unknown
}

// pressed does what a button says, under the card that has it.
func (d *Dispatcher) pressed(ctx context.Context, s Surface, e Event) {
	if text, sure := strings.CutSuffix(e.Text, reply.Confirmed); sure {
		e.Text, e.Sure = text, true
	}
	if !d.may(ctx, s, e, e.Text) {
		return
	}
	c, ok := d.work(ctx, s, e, e.Text, "")
	if !ok {
		return
	}
	if c.Reply.Enter != nil {
		err := s.Open(ctx, e, entering(c.Reply.Enter))
		if err == nil {
			return
		}
		// The card says what to type.
		d.log.DebugContext(ctx, "form of a check not opened", "surface", s.Name(), "event", e.ID, "err", err)
	}
	if on, ok := s.(Confirming); ok && c.Reply.Confirm != "" {
		err := on.Confirm(ctx, e, c)
		if err == nil {
			return
		}
		d.log.DebugContext(ctx, "form to confirm not opened", "surface", s.Name(), "event", e.ID, "err", err)
	}
	if d.keptFromAll(ctx, s, e, c) {
		return
	}
	c.ForAll = c.Reply.Record != nil
	_, _ = d.show(ctx, s, e, c, "answer to a button not shown")
}

// submitted answers a form, or sends it back.
func (d *Dispatcher) submitted(ctx context.Context, s Surface, e Event) {
	f := formOf(e)
	c := Message{}
	if f.Problems = d.Check(f); f.Problems != nil {
		err := s.Open(ctx, e, f)
		if err == nil {
			return
		}
		// A service that takes no form as the answer to one.
		d.log.DebugContext(ctx, "form not sent back", "surface", s.Name(), "event", e.ID, "err", err)
		c.Reply = sendBack(f, f.Problems)
	} else {
		var ok bool
		if c, ok = d.work(ctx, s, e, f.line(), ""); !ok {
			return
		}
	}
	if d.keptFromAll(ctx, s, e, c) {
		return
	}
	_, _ = d.show(ctx, s, e, c, "answer to a form not shown")
}

// threadOf is where follow-ups to an event are read with it: its thread, the
// thread that its answer begins, or the whole of a direct message.
func threadOf(e Event) string {
	p := e.Place
	thread := p.Thread
	if p.Direct && p.Channel == "" {
		p.Channel = e.Person.ID
	}
	if thread == "" && !p.Direct {
		thread = p.Begins
		if thread == "" {
			thread = string(e.Message)
		}
		if thread == "" {
			return ""
		}
	}
	return strings.Trim(p.Channel+"/"+thread, "/")
}
