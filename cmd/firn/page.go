package main

import (
	"cmp"
	"context"
	"sync"
	"time"

	"firn/adapters/page"
	"firn/adapters/picture"
	"firn/bot"
	"firn/bot/approach"
	"firn/bot/drawing"
	"firn/bot/pagestate"
	"firn/bot/reply"
)

// signIn says that people come in by links: whoever is not at this machine can
// reach the page.
func (l *loaded) signIn() bool {
	return l.Page.BehindProxy || !page.Loopback(cmp.Or(l.Page.Listen, defaultListen))
}

// newPage makes the crew-room page.
func (s *services) newPage(procedures *approach.Catalog) (*page.Page, error) {
	// Looking at a procedure leaves nothing in the record.
	looker, err := bot.New(s.log, s.loaded.Config, s.loaded.sets)
	if err != nil {
		return nil, err
	}
	looker.Use(bot.Ports{Procedures: procedures})
	o := page.Options{
		Now: s.now, Zone: s.bot.Zone, BehindProxy: s.loaded.Page.BehindProxy,
		Records: s.book, Procedures: procedures, Room: s.store,
		Pictures: drawer{sync.OnceValues(picture.New)},
		Preview: func(ctx context.Context, line string) (reply.Reply, error) {
			return looker.Handle(ctx, bot.Message{Surface: page.Surface, Text: line, At: s.now()})
		},
		Day: func(ctx context.Context, ident string) (drawing.Drawing, bool) {
			d, err := s.day(ctx, ident)
			if err != nil {
				s.log.DebugContext(ctx, "no picture of the day", "base", ident, "err", err)
			}
			return d, err == nil
		},
	}
	if s.loaded.signIn() {
		o.Access = s.store
	}
	for i := range s.loaded.Stations {
		st := &s.loaded.Stations[i]
		o.Stations = append(o.Stations, page.Station{Ident: st.Ident, Name: st.Name, Elevation: st.Elevation, Restriction: st.Restriction})
	}
	return page.New(s.log, o)
}

// drawer loads the fonts when the first picture is drawn.
type drawer struct {
	artist func() (*picture.Artist, error)
}

// SVG draws for a page.
func (d drawer) SVG(ctx context.Context, w drawing.Drawing) ([]byte, error) {
	a, err := d.artist()
	if err != nil {
		return nil, err
	}
	return a.SVG(ctx, w)
}

// PDF draws for paper.
func (d drawer) PDF(ctx context.Context, c drawing.Kneeboard) ([]byte, error) {
	a, err := d.artist()
	if err != nil {
		return nil, err
	}
	return a.PDF(ctx, c)
}

// inRoom has what is done on the page come from the channel that the
// configuration calls page, whichever browser it was: that is where alerts go
// to, and what blind_channels names.
type inRoom struct{ *bot.Bot }

// Handle answers one message.
func (b inRoom) Handle(ctx context.Context, m bot.Message) (reply.Reply, error) {
	if m.Surface == page.Surface {
		m.Channel = page.Surface
	}
	return b.Bot.Handle(ctx, m)
}

// pageDuty are the duty officers of the page: whoever is at this machine, and
// whoever came in by a link with that scope.
const (
	pageDuty     = page.Surface + ":" + page.DutyGroup
	pageDutyName = "whoever has a link with the scope duty"
)

// recordsChanged tells pages that show records at once what this process has
// done; the store's feed tells what others do. The book is made before the page.
func (s *services) recordsChanged() {
	if s.page != nil {
		s.page.Changed(pagestate.Change{Kind: pagestate.Record})
	}
}

// hear has open pages brought up to date with what any replica changes, until
// the context ends.
func (s *services) hear(ctx context.Context) {
	pagestate.Listen(ctx, s.log, s.store, func(c pagestate.Change) {
		s.page.Changed(c)
		if c.Kind == pagestate.Watch || c.Kind == pagestate.All {
			select {
			case s.stirred <- struct{}{}:
			default: // it looks already
			}
		}
	})
}

// threads keep what a follow-up on the page is read with: the next form may
// come to another replica. The chat services' threads stay with the process
// that answers there, as an answer must not wait for the database.
type threads struct{ pagestate.Store }

// lastAsked is the one entry of a thread's place.
const lastAsked = "last"

// Thread is what a conversation's last message left.
func (t threads) Thread(ctx context.Context, surface, thread string) (string, bool, error) {
	if surface != page.Surface {
		return "", false, nil
	}
	e, found, err := t.Entry(ctx, pagestate.Thread(thread), lastAsked)
	return e.Body, found, err
}

// KeepThread keeps it.
func (t threads) KeepThread(ctx context.Context, surface, thread, text string, at time.Time) error {
	if surface != page.Surface {
		return nil
	}
	return t.Edit(ctx, pagestate.Thread(thread), lastAsked, at, func(e pagestate.Entry, _ bool) (pagestate.Entry, bool) {
		e.Made, e.Body = at, text
		return e, true
	})
}
