package record

import (
	"context"
	"slices"
	"strings"
	"time"

	"firn/bot/reply"
)

// NotKept is the state on the card of a result that the store has not taken:
// it is in no list, and nobody can check it.
const NotKept State = "not kept"

// unkeptText is what people read on such a card.
const unkeptText = "This answer could not be kept in the record: nobody can check it, and it is in no log. Write the figures down, and tell whoever runs firn."

// mostLost bounds how many results that were given up are remembered.
const mostLost = 1000

// unkeptLimit is for changing one card: the next results wait for it.
const unkeptLimit = 5 * time.Second

// pending is a record that is not written yet. The book's lock is held over
// what is not a channel.
type pending struct {
	made    Result
	done    chan struct{} // closed when it is written or given up
	tried   chan struct{} // closed after the first try
	refused bool
	cards   []*standing
}

// standing is a card that shows a record which is not written yet.
type standing struct {
	surface, ref string
	told         bool // that it is not kept
}

// refuse says that the store has not taken it.
func (p *pending) refuse() {
	p.refused = true
	p.once()
}

func (p *pending) once() {
	select {
	case <-p.tried:
	default:
		close(p.tried)
	}
}

func (p *pending) settle() {
	p.once()
	close(p.done)
}

// refusedFor is how long a store that took nothing is thought to take nothing
// more. The figure is ours: a disk that is full stays so until somebody comes.
const refusedFor = 30 * time.Second

// tried says what the store did with the records that wait. When it takes none,
// their cards say so at once: its disk may be full, and people rely on them.
func (b *Book) tried(err error) {
	b.mu.Lock()
	b.refused = time.Time{}
	if err == nil {
		b.heard, b.silent = time.Now(), false
	} else {
		b.refused, b.heard = time.Now(), time.Time{}
		for _, p := range b.pending {
			p.refuse()
		}
	}
	b.mu.Unlock()
	if err != nil {
		b.tellUnkept()
	}
}

// unkept says that the store has not taken a record of this process.
func (b *Book) unkept(id string) bool {
	b.mu.Lock()
	defer b.mu.Unlock()
	if p := b.pending[id]; p != nil {
		return p.refused
	}
	return b.lost[id] != nil
}

// The figures are ours.
const (
	// keptLimit is how long somebody waits at most to be told whether an answer
	// is kept.
	keptLimit = 250 * time.Millisecond
	// heardFor is how long a store that took something is thought to take more:
	// where people ask more often than that no answer waits.
	heardFor = time.Second
)

// Kept waits until the store has taken a record of this process or has refused
// it once, but no longer than keptLimit, and says whether it has taken it. Where
// it cannot say so the record's card is told what becomes of it.
func (b *Book) Kept(ctx context.Context, id string) bool {
	ctx, cancel := context.WithTimeout(ctx, keptLimit)
	defer cancel()
	b.mu.Lock()
	p := b.pending[id]
	b.mu.Unlock()
	if p != nil {
		b.hurry() // the writer waits for no others
		select {
		case <-p.tried:
		case <-p.done:
		case <-ctx.Done():
			b.doubt(id)
		}
	}
	return !b.unkept(id)
}

// Expected says whether a record of this process may be shown as one that is
// kept: the store took something within the last second, or takes this within
// keptLimit. Of a store that goes in that second it is not true; what was shown
// then says that it is not kept as soon as the store has refused it.
func (b *Book) Expected(ctx context.Context, id string) bool {
	b.mu.Lock()
	p := b.pending[id]
	there, silent := time.Since(b.heard) < heardFor, b.silent
	b.mu.Unlock()
	switch {
	case p == nil:
		return !b.unkept(id)
	case silent:
		b.doubt(id)
		return !b.unkept(id)
	case there:
		return !b.unkept(id)
	}
	return b.Kept(ctx, id)
}

// Heard says whether the store was there just now, by whoever asked it something.
func (b *Book) Heard(there bool) {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.silent = !there; there {
		b.heard = time.Now()
	}
}

// doubt has the card of a record say that it is not kept, if it is not by now.
func (b *Book) doubt(id string) {
	b.mu.Lock()
	defer b.mu.Unlock()
	if p := b.pending[id]; p != nil {
		p.refuse()
	}
}

// stands remembers the card of a record that is not written yet.
func (b *Book) stands(surface, ref, id string) {
	b.closing.RLock()
	defer b.closing.RUnlock()
	if b.closed {
		return
	}
	b.mu.Lock()
	p := b.pending[id]
	if p == nil {
		p = b.lost[id]
	}
	if p == nil || slices.ContainsFunc(p.cards, func(c *standing) bool { return c.surface == surface && c.ref == ref }) {
		b.mu.Unlock()
		return
	}
	p.cards = append(p.cards, &standing{surface: surface, ref: ref})
	refused := p.refused
	b.mu.Unlock()
	if refused {
		b.tellUnkept()
	}
}

// tellUnkept has the cards of records that the store does not take say so. It
// does not wait; one that cannot be changed is tried after the next try.
func (b *Book) tellUnkept() {
	if b.o.Cards == nil {
		return
	}
	type card struct {
		*standing
		p *pending
	}
	var all []card
	b.mu.Lock()
	for _, of := range []map[string]*pending{b.pending, b.lost} {
		for _, p := range of {
			for _, c := range p.cards {
				if p.refused && !c.told {
					all = append(all, card{c, p})
				}
			}
		}
	}
	b.mu.Unlock()
	if len(all) == 0 {
		return
	}
	b.tellers.Go(func() {
		for _, c := range all {
			b.tellOneUnkept(c.standing, c.p)
		}
	})
}

// toldOut waits until what is being told is told.
func (b *Book) toldOut() {
	b.telling.Lock()
	defer b.telling.Unlock()
}

func (b *Book) tellOneUnkept(c *standing, p *pending) {
	b.telling.Lock()
	defer b.telling.Unlock()
	b.mu.Lock()
	wanted := !c.told && (b.pending[p.made.ID] == p || b.lost[p.made.ID] == p)
	b.mu.Unlock()
	if !wanted {
		return // it is kept by now
	}
	ctx, cancel := context.WithTimeout(context.Background(), unkeptLimit)
	defer cancel()
	err := b.o.Cards.Change(ctx, c.surface, c.ref, b.unkeptCard(p.made))
	if err != nil {
		b.log.WarnContext(ctx, "card does not say that its record is not kept", "record", p.made.ID, "surface", c.surface, "err", err)
		return
	}
	b.mu.Lock()
	c.told = true
	b.mu.Unlock()
}

// unkeptCard is the card of a result that the store has not taken.
func (b *Book) unkeptCard(m Result) Message {
	c := b.card(Record{Result: m})
	c.Reply, c.Note = Unkept(c.Reply), "NOT KEPT: "+m.ID+"."
	return c
}

// Missing says that there is no record of a name. A card may have it all the same:
// firn was killed between the answer and its record, or a backup was put back.
func Missing(id string) string {
	return "No record is called " + id + ". If it stands on a card, that answer was not kept and nobody can check it: ask again, and use the new one."
}

// Unrecorded is an answer where no store is open: its figures are in no record.
func Unrecorded(out reply.Reply) reply.Reply {
	if len(out.Altitudes) > 0 || len(out.Arrivals) > 0 {
		out.Cautions = append([]reply.Caution{{Code: reply.CautionNotKept, Text: unkeptText}}, out.Cautions...)
	}
	return out
}

// Unkept is a card whose record the store has not taken: without what can only
// be done to one that is kept.
func Unkept(out reply.Reply) reply.Reply {
	if out.Record == nil || out.Record.State == string(NotKept) {
		return out
	}
	card := *out.Record
	card.State = string(NotKept)
	out.Record = &card
	out.Actions = slices.DeleteFunc(slices.Clone(out.Actions), func(a reply.Action) bool { return strings.Contains(a.Asks(), card.ID) })
	out.Cautions = append([]reply.Caution{{Code: reply.CautionNotKept, Text: unkeptText}}, out.Cautions...)
	return out
}
