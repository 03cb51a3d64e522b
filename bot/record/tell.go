package record

import (
	"context"
	"time"

	"firn/bot/outbox"
	"firn/bot/reply"
)

// The pace of telling. The figures are ours: a card that cannot be changed for
// a day will not be.
const (
	tellBatch = 50
	tellLimit = 30 * time.Second
	tellFirst = 10 * time.Second // pause after the first failure; doubled each time
	tellLast  = 10 * time.Minute
	tellTries = 150
)

// Run changes cards as soon as something happens to their records, until the
// context ends.
func (b *Book) Run(ctx context.Context) error {
	for {
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-b.kick:
			b.tell(ctx)
		}
	}
}

// tell changes the cards that are behind.
func (b *Book) tell(ctx context.Context) (l Swept) {
	if b.o.Cards == nil {
		return l
	}
	for ctx.Err() == nil {
		marks, err := b.store.Untold(ctx, b.now(), tellBatch)
		b.failed(ctx, &l, "cards to change not read", err)
		moved := false
		for _, m := range marks {
			ok, held := b.tellOne(ctx, m)
			if ok {
				l.Told++
			} else {
				l.Failed++
			}
			moved = moved || held
		}
		if err != nil || len(marks) == 0 || !moved {
			return l
		}
	}
	return l
}

// tellOne changes one card, in silence: what newer weather changed is told once a
// channel (Outdated). moved says that the card's mark is another now.
func (b *Book) tellOne(ctx context.Context, m Mark) (ok, moved bool) {
	ctx, cancel := context.WithTimeout(ctx, tellLimit)
	defer cancel()
	r, found, err := b.store.Record(ctx, m.Record)
	if err == nil && !found {
		err = b.store.DropCard(ctx, m.Surface, m.Ref)
		return err == nil, err == nil
	}
	if err == nil {
		err = b.o.Cards.Change(ctx, m.Surface, m.Ref, b.card(r))
	}
	is := m
	switch {
	case err == nil:
		is.Told, is.Tries, is.Again = r.Rev, 0, time.Time{}
	case outbox.IsPermanent(err) || m.Tries+1 >= tellTries:
		b.log.ErrorContext(ctx, "card not changed; given up", "record", m.Record, "surface", m.Surface, "err", err)
		is.Told = m.Want
	default:
		b.log.WarnContext(ctx, "card not changed yet", "record", m.Record, "surface", m.Surface, "err", err)
		is.Tries, is.Again = m.Tries+1, b.now().Add(min(tellLast, tellFirst<<min(m.Tries, 10)))
	}
	held, marked := b.store.SetMark(context.WithoutCancel(ctx), m, is)
	if marked != nil {
		b.log.ErrorContext(ctx, "change of a card not marked", "record", m.Record, "err", marked)
	}
	if err == nil && marked == nil && !held {
		b.overtaken(ctx, m, r.Rev)
	}
	return err == nil && held, marked == nil && held
}

// overtaken is for a card that two have changed at the same time. Which of
// them its service took last is not known; whoever showed an older revision
// shows it again as it is now.
func (b *Book) overtaken(ctx context.Context, m Mark, shown int) {
	for range doTries {
		r, found, err := b.store.Record(ctx, m.Record)
		if err == nil && found && r.Rev > shown {
			if err = b.o.Cards.Change(ctx, m.Surface, m.Ref, b.card(r)); err == nil {
				shown = r.Rev
				continue
			}
		}
		if err == nil {
			return
		}
		b.log.ErrorContext(ctx, "card may show an older revision", "record", m.Record, "surface", m.Surface, "err", err)
		select {
		case <-time.After(time.Second):
		case <-ctx.Done():
			return
		}
	}
}

// card is what a record's card shows now.
func (b *Book) card(r Record) Message {
	now := b.now()
	c := Message{Reply: Render(r, now, b.set), Note: Above(r, now, b.set)}
	// A button under it is pressed whenever, and asks the whole of it.
	actions := make([]reply.Action, len(c.Reply.Actions))
	for i, a := range c.Reply.Actions {
		a.Message = a.Asks()
		actions[i] = a
	}
	c.Reply.Actions = actions
	return c
}
