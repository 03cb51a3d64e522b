package chat

import (
	"context"
	"slices"
	"strings"

	"firn/bot/present"
	"firn/bot/reply"
)

// What people read where an entry under More leads nowhere.
const goneText = "What stood there is not kept; ask again for it."

// unfolded shows one person what lies behind an entry under More.
func (d *Dispatcher) unfolded(ctx context.Context, s Surface, e Event) {
	u, ok := s.(Unfolding)
	if !ok {
		d.log.WarnContext(ctx, "surface has no More", "surface", s.Name(), "event", e.ID)
		return
	}
	r, found := d.standingOn(ctx, s, e)
	if !found {
		if e.Text == "" {
			d.whisper(ctx, s, e, reply.Refuse(reply.Problem{Text: goneText}))
			return
		}
		c, ok := d.work(ctx, s, e, e.Text, "")
		if !ok {
			return
		}
		r = c.Reply
	}
	doc := present.Of(r)
	entries := present.ControlsOf(r, doc).More
	var p Part
	for id := range strings.SplitSeq(e.Fields[FieldEntry], present.Joined) {
		at := slices.IndexFunc(entries, func(n present.Entry) bool { return n.ID == id })
		switch {
		case at < 0: // all was asked for, or it was made anew and has no such part
			p.Blocks = doc.Unfolded(id)
		case entries[at].Open:
			e.Kind, e.Text = Pressed, entries[at].Asks
			d.pressed(ctx, s, e)
			return
		case entries[at].Asks == "":
			p.add(Part{Title: entries[at].Title, Blocks: doc.Unfolded(id)})
		default:
			one, ok := d.aside(ctx, s, e, entries[at])
			if !ok {
				return
			}
			p.add(one)
		}
	}
	d.failed(ctx, s, e, "what lay behind More not shown", u.Unfold(ctx, e, p))
}

// add puts another part behind this one.
func (p *Part) add(q Part) {
	if p.Title != "" && q.Title != "" {
		p.Title += ", "
	}
	p.Title += q.Title
	p.Blocks = append(p.Blocks, q.Blocks...)
	p.Pictures, p.Files = append(p.Pictures, q.Pictures...), append(p.Files, q.Files...)
}

// standingOn is the reply that the event's card shows, where it is kept. A
// press on a card that has just appeared may come before it is known.
func (d *Dispatcher) standingOn(ctx context.Context, s Surface, e Event) (reply.Reply, bool) {
	if d.set.On == nil || e.Message == "" {
		return reply.Reply{}, false
	}
	for again := false; ; again = true {
		r, found, err := d.set.On(ctx, s.Name(), e.Message)
		d.failed(ctx, s, e, "reply of a card not found", err)
		if found || err != nil || again || !d.appearing.wait(ctx, place(s, e)) {
			return r, found && err == nil
		}
	}
}

// aside asks what an entry asks, for the person alone.
func (d *Dispatcher) aside(ctx context.Context, s Surface, e Event, entry present.Entry) (Part, bool) {
	if !d.may(ctx, s, e, entry.Asks) {
		return Part{}, false
	}
	c, ok := d.work(ctx, s, e, entry.Asks, "")
	if !ok {
		return Part{}, false
	}
	doc := present.Of(c.Reply)
	p := Part{Title: entry.Title, Blocks: doc.Unfolded(entry.ID), Pictures: c.Pictures, Files: c.Files}
	if entry.ID != present.EntryWorking && len(c.Pictures)+len(c.Files) > 0 {
		p.Blocks = doc.Short[:min(1, len(doc.Short))] // the answer stands on the screen already
	}
	return p, true
}
