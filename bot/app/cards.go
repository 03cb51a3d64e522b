package app

import (
	"context"
	"fmt"
	"slices"

	"firn/bot"
	"firn/bot/chat"
	"firn/bot/config"
	"firn/bot/outbox"
	"firn/bot/record"
	"firn/bot/reply"
)

// newBook opens the record.
func (a *App) newBook() *record.Book {
	o := record.Options{Settings: a.recordSettings(), Computer: a.bot, Forecaster: a.chain, Cards: cards{a}, Teller: outdated{a}}
	if len(a.parts.Sources) > 0 {
		o.Observer = a.chain
	}
	return record.New(a.log, a.now, a.parts.Store, o)
}

// recordSettings are the configuration's.
func (a *App) recordSettings() record.Settings {
	c := a.cfg.Record
	set := record.Settings{
		Expire: c.Expire, Retain: c.Retain, Step: c.Step, Blind: c.Blind,
		BlindChannels: texts(c.BlindChannels), Zone: a.bot.Zone, Wrote: a.recordsChanged, Lost: a.parts.Meter.NotKept,
		Field: a.field,
	}
	for _, accounts := range c.Linked {
		set.Linked = append(set.Linked, texts(accounts))
	}
	return set
}

// field is what the record holds a station's results against.
func (a *App) field(ident string) (record.Field, bool) {
	st, ok := a.cfg.Station(ident)
	if !ok {
		return record.Field{}, false
	}
	f := record.Field{ElevationFt: float64(st.Elevation)}
	if st.Restriction != nil {
		f.Restriction = reply.Some(float64(*st.Restriction))
	}
	return f, true
}

// texts are addresses as the record has them.
func texts(all []config.Address) []string {
	var out []string
	for _, a := range all {
		out = append(out, a.String())
	}
	return out
}

// cards changes what the surfaces show of a record.
type cards struct{ a *App }

// surface is the one of a name; nil: it is not set up here.
func (a *App) surface(name string) Surface {
	if i := slices.IndexFunc(a.surfaces, func(on Surface) bool { return on.Name() == name }); i >= 0 {
		return a.surfaces[i]
	}
	return nil
}

// reached is the surface of a channel; nil: nothing can be changed there.
func (a *App) reached(channel string) Surface { return a.surface(outbox.Surface(channel)) }

// Change puts another card in the place of one.
func (c cards) Change(ctx context.Context, surface, ref string, card record.Message) error {
	on := c.a.surface(surface)
	if on == nil {
		return notHere(surface)
	}
	return on.Change(ctx, chat.Ref(ref), chat.Message{Reply: card.Reply, Note: card.Note, Awaited: byPerson(card.Reply.Record)})
}

func notHere(surface string) error { return fmt.Errorf("%s is not set up here", surface) }

// byPerson says that somebody, and not the weather or the clock, made a record what
// it is.
func byPerson(s *reply.RecordStatus) bool {
	return s != nil && s.State != string(record.Recompute) && s.State != string(record.Expired)
}

// shown tells the record which card shows it.
func (a *App) shown(ctx context.Context, surface string, ref chat.Ref, r reply.Reply, again bool) {
	id := ""
	if r.Record != nil {
		id = r.Record.ID
	}
	if id == "" && !again {
		return
	}
	if err := a.book.Shown(ctx, surface, string(ref), id); err != nil {
		a.log.WarnContext(ctx, "card not kept", "record", id, "surface", surface, "err", err)
	}
}

// unasked ends the record that a card shows, whose question became talk.
func (a *App) unasked(ctx context.Context, surface string, ref chat.Ref) (found bool, err error) {
	return a.book.Unasked(ctx, surface, string(ref))
}

// on is what a card shows now.
func (a *App) on(ctx context.Context, surface string, ref chat.Ref) (reply.Reply, bool, error) {
	r, found, err := a.book.On(ctx, surface, string(ref))
	if err != nil {
		return reply.Reply{}, false, err
	}
	if !found {
		return a.alertOn(ctx, surface, string(ref))
	}
	return a.book.Render(r), true, nil
}

// alertOn is the alert that stands in a message: what is behind its More is its
// own, and not worked out anew.
func (a *App) alertOn(ctx context.Context, surface, ref string) (reply.Reply, bool, error) {
	posts, err := a.standing(ctx, "alert/", "digest/")
	if err != nil {
		return reply.Reply{}, false, err
	}
	for _, p := range posts {
		if p.Ref == ref && outbox.Surface(p.Channel) == surface {
			return p.Body, true, nil
		}
	}
	return reply.Reply{}, false, nil
}

// standing are the posts of the last days whose keys begin so.
func (a *App) standing(ctx context.Context, prefixes ...string) (all []outbox.Shown, err error) {
	for _, prefix := range prefixes {
		some, err := a.parts.Store.Standing(ctx, prefix, a.now().Add(-retireSince))
		if err != nil {
			return nil, err
		}
		all = append(all, some...)
	}
	return all, nil
}

// Spoken answers for a surface whose lines cannot be changed afterwards: each
// answer says whether it was kept, which is waited for a moment.
type Spoken struct {
	bot  *bot.Bot
	book *record.Book
}

// Spoken is that of an App; without a store nothing is kept, which each answer says.
func (a *App) Spoken() Spoken { return Spoken{a.bot, a.book} }

// Handle answers one message.
func (s Spoken) Handle(ctx context.Context, m bot.Message) (reply.Reply, error) {
	r, err := s.bot.Handle(ctx, m)
	if s.book == nil {
		return record.Unrecorded(r), err
	}
	return marked(ctx, r, s.book.Kept), err
}

// marked is a reply that says so where its record cannot be thought to be kept.
func marked(ctx context.Context, r reply.Reply, kept func(ctx context.Context, id string) bool) reply.Reply {
	if r.Record == nil || r.Record.State != string(record.Unchecked) || kept(ctx, r.Record.ID) {
		return r
	}
	return record.Unkept(r)
}
