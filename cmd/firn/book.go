package main

import (
	"context"
	"fmt"

	"firn/bot/chat"
	"firn/bot/config"
	"firn/bot/record"
	"firn/bot/reply"
)

// newBook opens the record.
func (s *services) newBook() *record.Book {
	o := record.Options{Settings: s.recordSettings(), Computer: s.bot, Forecaster: s.chain, Cards: cards{s}}
	if len(s.sources) > 0 {
		o.Observer = s.chain
	}
	return record.New(s.log, s.now, s.store, o)
}

// recordSettings are the configuration's.
func (s *services) recordSettings() record.Settings {
	c := s.loaded.Record
	set := record.Settings{
		Expire: c.Expire, Retain: c.Retain, Step: c.Step, Blind: c.Blind,
		BlindChannels: texts(c.BlindChannels), Zone: s.bot.Zone, Wrote: s.recordsChanged, Lost: func() { s.meters.lost.Add() },
	}
	set.Field = func(ident string) (record.Field, bool) {
		st, ok := s.loaded.Station(ident)
		if !ok {
			return record.Field{}, false
		}
		f := record.Field{ElevationFt: float64(st.Elevation)}
		if st.Restriction != nil {
			f.Restriction = reply.Some(float64(*st.Restriction))
		}
		return f, true
	}
	for _, accounts := range c.Linked {
		set.Linked = append(set.Linked, texts(accounts))
	}
	return set
}

// texts are addresses as the record has them.
func texts(all []config.Address) []string {
	var out []string
	for _, a := range all {
		out = append(out, a.String())
	}
	return out
}

// cards changes what the chat services show of a record.
type cards struct{ s *services }

// on is the chat service that a card stands on.
func (c cards) on(surface string) (surface, error) {
	for _, on := range c.s.surfaces {
		if on.Name() == surface {
			return on, nil
		}
	}
	return nil, fmt.Errorf("%s is not set up here", surface)
}

// Change puts another card in the place of one.
func (c cards) Change(ctx context.Context, surface, ref string, card record.Message) error {
	on, err := c.on(surface)
	if err != nil {
		return err
	}
	return on.Change(ctx, chat.Ref(ref), chat.Message{Reply: card.Reply, Note: card.Note})
}

// Follow shows a card in the thread of one.
func (c cards) Follow(ctx context.Context, surface, ref string, card record.Message) error {
	on, err := c.on(surface)
	if err != nil {
		return err
	}
	_, err = on.Follow(ctx, chat.Ref(ref), chat.Message{Reply: card.Reply, Note: card.Note})
	return err
}

// shown tells the record which card shows it.
func (s *services) shown(ctx context.Context, surface string, ref chat.Ref, r reply.Reply, again bool) {
	id := ""
	if r.Record != nil {
		id = r.Record.ID
	}
	if id == "" && !again {
		return
	}
	if err := s.book.Shown(ctx, surface, string(ref), id); err != nil {
		s.log.WarnContext(ctx, "card not kept", "record", id, "surface", surface, "err", err)
	}
}

// on is what a card shows now.
func (s *services) on(ctx context.Context, surface string, ref chat.Ref) (reply.Reply, bool, error) {
	r, found, err := s.book.On(ctx, surface, string(ref))
	if err != nil || !found {
		return reply.Reply{}, false, err
	}
	return s.book.Render(r), true, nil
}
