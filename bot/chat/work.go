package chat

import (
	"context"
	"errors"
	"runtime/debug"
	"slices"

	"firn/bot"
	"firn/bot/outbox"
	"firn/bot/parse"
	"firn/bot/reply"
)

// What people read when firn cannot answer.
const (
	brokenText = "firn could not work this out; it is logged. Work it from the published table."
	slowText   = "firn could not work this out in time; ask again, or work it from the published table."
	busyText   = "firn has more to do than it can; ask again in a minute, or work it from the published table."

	// Of a deed, which has no figures.
	undoneText = "firn could not do this, or cannot say that it did; it is logged. Try again in a minute, and tell whoever runs firn."
)

// confirmFirst says that a check may be of figures that the person does not have in
// sight: a button stands for a card that may be far up, and a command anywhere.
func confirmFirst(e Event, text string) bool {
	pointed := e.Kind == Pressed || e.Kind == MessagePosted && e.Message == ""
	return pointed && !e.Sure && parse.VerbOf(text) == parse.Check // reading costs, and comes last
}

// fullText is what a person reads where the service takes no more messages.
const fullText = "Too much is asked here for firn to answer in time; ask again in a minute, or work it from the published table."

var errBusy = errors.New("too many events wait")

// handle answers a message.
type handle func(ctx context.Context, m bot.Message) (reply.Reply, error)

// work lets the answerer answer text, in the place of a card where there is
// one. ok is false when nothing is to be shown any more.
func (d *Dispatcher) work(ctx context.Context, s Surface, e Event, text string, instead Ref) (c Message, ok bool) {
	answer := func(ctx context.Context, m bot.Message) (reply.Reply, error) { return d.answerer.Handle(ctx, m) }
	return d.workBy(ctx, answer, s, e, text, instead) // which recovers also where there is no answerer
}

func (d *Dispatcher) workBy(ctx context.Context, answer handle, s Surface, e Event, text string, instead Ref) (c Message, ok bool) {
	limited, cancel := context.WithTimeout(ctx, d.set.Limit)
	defer cancel()
	if err := d.turn(limited); err != nil {
		return d.unanswered(ctx, s, e, text, err)
	}
	defer func() { <-d.atWork }()
	defer func() {
		if p := recover(); p != nil {
			// One message must not end the watch of every base.
			d.log.ErrorContext(ctx, "answering panicked", "surface", s.Name(), "event", e.ID, "panic", p, "stack", string(debug.Stack()))
			c, ok = Message{Reply: reply.Refuse(reply.Problem{Text: sorry(text, nil)})}, true
		}
	}()
	m := d.message(s, e, text)
	m.Card = string(instead)
	if on, ok := s.(Foreseeing); ok && instead == "" && e.Kind != Unfolded {
		m.Coming = string(on.Foresee(e))
	}
	r, err := answer(limited, m)
	if err != nil {
		return d.unanswered(ctx, s, e, text, err)
	}
	c.Reply = standing(r)
	if r.Enter != nil {
		c.Reply.Actions = append(c.Reply.Actions, reply.Action{ID: ActionEnter, Label: "Enter the altitudes", Message: "check " + r.Enter.Record})
	}
	if d.set.Pictures != nil {
		drawn := d.set.Pictures(limited, r)
		c.Pictures, c.Files = drawn.Pictures, drawn.Files
		if drawn.Missing != "" {
			c.Reply.Cautions = append(slices.Clip(c.Reply.Cautions), reply.Caution{Code: reply.CautionNotDrawn, Text: drawn.Missing})
		}
	}
	return c, true
}

// message is what the answerer is asked for an event.
func (d *Dispatcher) message(s Surface, e Event, text string) bot.Message {
	return bot.Message{
		Surface:      s.Name(),
		Thread:       threadOf(e),
		Aside:        e.Kind == Unfolded,
		Heard:        e.Unmentioned,
		User:         user(s, e.Person),
		Person:       s.Name() + ":" + oneLine(e.Person.ID),
		Via:          oneLine(e.Person.Via),
		Channel:      address(s, e.Place),
		Direct:       e.Place.Direct,
		Own:          e.Place.Direct && !e.Place.Open,
		ConfirmFirst: confirmFirst(e, text),
		Duty:         d.onDuty(s, e.Person),
		ID:           e.ID,
		Text:         text,
		At:           e.At,
	}
}

// address is a place as the configuration writes it.
func address(s Surface, p Place) string {
	if p.Channel == "" {
		return ""
	}
	return s.Name() + ":" + p.Channel
}

// standing has the reply's buttons ask the whole of it: they stay where they
// are while the conversation goes on.
func standing(r reply.Reply) reply.Reply {
	r.Actions = slices.Clone(r.Actions)
	for i, a := range r.Actions {
		r.Actions[i].Message = a.Asks()
	}
	return r
}

// turn waits until there is room to work.
func (d *Dispatcher) turn(ctx context.Context) error {
	select {
	case d.atWork <- struct{}{}:
		return nil
	default:
	}
	select {
	case d.waiting <- struct{}{}:
		defer func() { <-d.waiting }()
	default:
		return errBusy
	}
	select {
	case d.atWork <- struct{}{}:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}

// unanswered logs why and makes the card that says it plainly.
func (d *Dispatcher) unanswered(ctx context.Context, s Surface, e Event, text string, err error) (Message, bool) {
	if ctx.Err() != nil {
		d.failed(ctx, s, e, "not answered", err)
		return Message{}, false
	}
	d.log.ErrorContext(ctx, "not answered", "surface", s.Name(), "event", e.ID, "err", err)
	if errors.Is(err, errBusy) && e.Waits {
		d.notTaken(ctx, s, e, reply.Refuse(reply.Problem{Text: busyText}))
		return Message{}, false
	}
	if errors.Is(err, errBusy) {
		// Saying so must not become the load.
		select {
		case d.apologies <- struct{}{}:
			defer func() { <-d.apologies }()
			d.whisper(ctx, s, e, reply.Refuse(reply.Problem{Text: busyText}))
		default:
		}
		return Message{}, false
	}
	return Message{Reply: reply.Refuse(reply.Problem{Text: sorry(text, err)})}, true
}

// sorry is what people read who have no answer to a message.
func sorry(text string, err error) string {
	switch {
	case parse.VerbOf(text).Does():
		return undoneText
	case errors.Is(err, context.DeadlineExceeded):
		return slowText
	}
	return brokenText
}

// full tells the person that the place takes no more messages now: others may
// have asked there so much that the service makes firn wait too long.
func (d *Dispatcher) full(ctx context.Context, s Surface, e Event, err error) {
	var busy outbox.RetryAfterError
	if !errors.As(err, &busy) {
		return
	}
	select {
	case d.apologies <- struct{}{}:
		defer func() { <-d.apologies }()
		d.whisper(ctx, s, e, reply.Refuse(reply.Problem{Text: fullText}))
	default:
	}
}

// notTaken tells somebody who sees where the answer would be, each time: nothing
// else says to them that what they sent is not answered.
func (d *Dispatcher) notTaken(ctx context.Context, s Surface, e Event, r reply.Reply) {
	d.failed(ctx, s, e, "refusal not shown", s.Whisper(ctx, e, Message{Reply: r, NotTaken: true}))
}

func (d *Dispatcher) whisper(ctx context.Context, s Surface, e Event, r reply.Reply) {
	d.failed(ctx, s, e, "refusal not shown", s.Whisper(ctx, e, Message{Reply: r}))
}

// failed logs what a surface could not do; nothing when it could.
func (d *Dispatcher) failed(ctx context.Context, s Surface, e Event, what string, err error) {
	if err != nil {
		d.log.ErrorContext(ctx, what, "surface", s.Name(), "event", e.ID, "err", err)
	}
}
