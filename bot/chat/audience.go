package chat

import (
	"context"
	"strings"
	"time"

	"firn/bot/parse"
	"firn/bot/reply"
)

// keptFromAll deals with what is not for everybody: what needs no answer gets
// none, and what concerns one person is shown to that person, where the service
// can. False: it is to be shown as an answer.
func (d *Dispatcher) keptFromAll(ctx context.Context, s Surface, e Event, c Message) bool {
	typed := e.Kind == MessagePosted || e.Kind == Edited
	switch {
	case c.Reply.Kind == reply.KindNote && typed && !e.Waits && (e.Message != "" || e.Unmentioned):
		return true
	case !e.Alone, typed && e.Message != "": // a message is answered where others answer too
		return false
	}
	switch c.Reply.Kind {
	case reply.KindQuestion, reply.KindError, reply.KindHelp, reply.KindNotice, reply.KindNote, reply.KindMine:
	default:
		if parse.VerbOf(e.Text) != parse.Why {
			return false
		}
	}
	d.failed(ctx, s, e, "answer to one person not shown", s.Whisper(ctx, e, c))
	return true
}

// What people read who do not belong to the unit.
const (
	outsiderText = "firn answers the members of its unit alone: not guests, nor people of other organisations."
	unsureText   = "firn could not learn whether you belong to its unit; ask again in a minute, or in the unit's channel."
)

// outside turns somebody away who does not belong to the unit, or who may not.
// Whoever may not is taken for a member where members alone can write.
func (d *Dispatcher) outside(ctx context.Context, s Surface, e Event) bool {
	text := outsiderText
	if e.Person.Standing == Unsure {
		if !e.Place.Direct {
			return false
		}
		text = unsureText
	}
	d.log.InfoContext(ctx, "not a member", "surface", s.Name(), "person", e.Person.ID, "event", e.ID, "unsure", e.Person.Standing == Unsure)
	r := reply.Refuse(reply.Problem{Text: text})
	switch {
	case e.Kind == HomeOpened:
		if front, ok := s.(Fronted); ok {
			d.failed(ctx, s, e, "front page not shown", front.Front(ctx, e, Message{Reply: r, Closed: true}))
		}
	case e.Kind == Deleted, e.Unmentioned:
	case e.Place.Direct, e.Alone:
		if wait, tell := d.flooded(s, e.Person, asked); wait == 0 || tell {
			d.whisper(ctx, s, e, r)
		}
	}
	return true
}

// notHereText is what somebody reads who asks where there are no answers.
const notHereText = "firn does not answer in this channel. Ask in a direct message, or in a channel that its configuration names."

// One line a place and minute is enough to see that somebody asks there, and
// one answer a person.
const (
	elsewhereEvery = time.Minute
	elsewhereMost  = 1000
)

// turnAway tells whoever asks at a place without answers, where nobody else
// reads it, and leaves a log line.
func (d *Dispatcher) turnAway(ctx context.Context, s Surface, e Event) {
	if e.Kind == Deleted {
		return
	}
	key := s.Name() + "/" + e.Place.Home + "/" + e.Place.Channel
	if d.firstIn(key) {
		d.log.InfoContext(ctx, "no answer at this place", "surface", s.Name(), "home", e.Place.Home, "channel", e.Place.Channel, "direct", e.Place.Direct)
	}
	asked := e.Kind == MessagePosted || e.Kind == FormRequested || e.Kind == Submitted
	if asked && e.Alone && !e.Place.Direct && !e.Unmentioned && (e.Message == "" || d.firstIn(key+"/"+e.Person.ID)) {
		ctx, cancel := context.WithTimeout(ctx, d.set.Limit)
		defer cancel()
		text := notHereText
		if w := d.set.Where[s.Name()]; w.Home != "" && e.Place.Home != "" && e.Place.Home != w.Home {
			text = outsiderText // a direct message gets no answer either
		}
		d.whisper(ctx, s, e, reply.Refuse(reply.Problem{Text: text}))
	}
}

// firstIn says that a key comes for the first time in a while.
func (d *Dispatcher) firstIn(key string) (first bool) {
	now := d.now()
	d.elsewhere.With(key, now, func() time.Time { return time.Time{} }, func(told *time.Time, _ bool) {
		if first = now.Sub(*told) >= elsewhereEvery; first {
			*told = now
		}
	})
	return first
}

// unasked tells the record of a card that its question became talk, and says whether
// there is one: the card then stays, and says so, since others may fly by it.
func (d *Dispatcher) unasked(ctx context.Context, s Surface, e Event, card Ref) (found bool) {
	if d.set.Unasked == nil {
		return false
	}
	found, err := d.set.Unasked(ctx, s.Name(), card)
	d.failed(ctx, s, e, "edit into talk not noted", err)
	return found && err == nil
}

// deleted tells the record that a question is gone.
func (d *Dispatcher) deleted(ctx context.Context, s Surface, e Event) delivery {
	if d.set.Deleted != nil {
		d.failed(ctx, s, e, "deletion not noted", d.set.Deleted(ctx, s.Name(), strings.TrimSuffix(e.ID, DeletedID)))
	}
	return done
}
