package app

import (
	"context"
	"errors"
	"fmt"
	"time"

	"firn/bot/chat"
	"firn/bot/config"
	"firn/bot/drawing"
	"firn/bot/record"
	"firn/bot/reply"
	"firn/engine/coldwatch"
)

// ErrUnknown is asked of a station that the configuration does not have.
var ErrUnknown = errors.New("no station of the configuration")

// PictureOf is the picture of an answer: its profile, or with the kind curve
// the correction over the temperature. nil: there is nothing to draw.
func PictureOf(kind string, r reply.Reply) drawing.Drawing {
	if kind == "curve" {
		if d, ok := drawing.CurveOf(r); ok {
			return d
		}
		return nil
	}
	if d, ok := drawing.ProfileOf(r, r.ApproachName()); ok {
		return d
	}
	return nil
}

// Day is the picture of a base's day: the forecast that the watch judges by,
// against the line.
func (a *App) Day(ctx context.Context, ident string) (drawing.Drawing, error) {
	st, ok := a.cfg.Station(ident)
	if !ok {
		return nil, fmt.Errorf("%q is %w", ident, ErrUnknown)
	}
	window, ok := a.watch.Window(st.Ident, a.now())
	if !ok {
		return nil, fmt.Errorf("%s is not watched", st.Ident)
	}
	j, f, err := a.watch.Judged(ctx, st.Ident, a.now())
	if err != nil {
		return nil, err
	}
	if f == nil {
		return nil, fmt.Errorf("%s: %s", st.Ident, j.Note)
	}
	d, ok := drawing.DayOf(baseOf(st), f, window, lineOf(st), a.now())
	if !ok {
		return nil, fmt.Errorf("%s: the forecast has nothing to draw", st.Ident)
	}
	return d, nil
}

// seasonDays is how far back a season goes: a year.
const seasonDays = 365

// Season is the picture of a base's daily lows, as the store has them.
func (a *App) Season(ctx context.Context, ident string) (drawing.Drawing, error) {
	st, ok := a.cfg.Station(ident)
	if !ok {
		return nil, fmt.Errorf("%q is %w", ident, ErrUnknown)
	}
	if st.Restriction == nil {
		return nil, fmt.Errorf("%s has no restriction temperature to hold a season against", st.Ident)
	}
	all, err := a.parts.Store.Observed(ctx, st.Ident, a.now().AddDate(0, 0, -seasonDays), a.now().Add(time.Minute))
	if err != nil {
		return nil, err
	}
	lows := make([]drawing.Low, len(all))
	for i, o := range all {
		lows[i] = drawing.Low{Day: o.At, C: o.C}
	}
	d, ok := drawing.SeasonOf(baseOf(st), lows, *st.Restriction, "observations in "+a.parts.Where)
	if !ok {
		return nil, fmt.Errorf("%s: the store has no observations to draw", st.Ident)
	}
	return d, nil
}

func baseOf(st *config.Station) drawing.Base {
	return drawing.Base{Ident: st.Ident, Name: st.Name, Zone: st.Zone}
}

func lineOf(st *config.Station) coldwatch.Line {
	l := coldwatch.Line{Restriction: coldwatch.NoRestriction}
	if st.Restriction != nil {
		l.Restriction = *st.Restriction
	}
	if st.Watch != nil {
		l.Margin = st.Watch.Margin
	}
	return l
}

// RecordCard is the card to print of a record, as the record is now; ok is
// false where it has no altitudes.
func (a *App) RecordCard(ctx context.Context, name, paper string) (card drawing.Kneeboard, ok bool, err error) {
	k, found, err := a.book.Find(ctx, name)
	if err == nil && !found {
		err = fmt.Errorf("no record is called %s in %s", name, a.parts.Where)
	}
	if err != nil {
		return drawing.Kneeboard{}, false, err
	}
	card, ok = a.cardOf(k, paper)
	return card, ok, nil
}

// cardHolds is how long the card of an answer that is not kept holds: as long
// as a record does when nothing is configured.
const cardHolds = 6 * time.Hour

// AnswerCard is the card to print of an answer that leaves no record. by is who
// computed it; empty: there is a line to write the name.
func (a *App) AnswerCard(r reply.Reply, by, paper string) (card drawing.Kneeboard, ok bool) {
	on, _ := drawing.ParsePaper(paper) // else A5
	return drawing.KneeboardOf(r, drawing.Standing{
		Computed: drawing.Signed{By: by, At: a.now()}, ValidUntil: a.now().Add(cardHolds),
		Now: a.now(), Zone: a.bot.Zone(r.Station.Ident), Paper: on,
	})
}

// cardOf is a record's card as the record is now.
func (a *App) cardOf(k record.Record, paper string) (drawing.Kneeboard, bool) {
	standing := drawing.StandingOf(k, a.now(), a.bot.Zone)
	standing.Paper, _ = drawing.ParsePaper(paper) // else A5
	return drawing.KneeboardOf(k.Reply, standing)
}

// pictures draws what is shown with an answer: what was asked for. The profile
// of an answer is under More.
func (a *App) pictures(ctx context.Context, r reply.Reply) chat.Drawn {
	if r.Picture == "" || a.parts.Artist == nil {
		return chat.Drawn{}
	}
	switch r.Picture {
	case "card":
		return a.printed(ctx, r)
	case "day":
		d, err := a.Day(ctx, r.PictureOf)
		if err != nil {
			a.log.DebugContext(ctx, "no picture of the day", "base", r.PictureOf, "err", err)
			return undrawn("There is no forecast of " + r.PictureOf + " to draw. That does not mean warm.")
		}
		return a.drawn(ctx, d)
	}
	d := PictureOf(r.Picture, r)
	if d == nil {
		return chat.Drawn{}
	}
	return a.drawn(ctx, d)
}

// undrawn says why a picture is not there.
func undrawn(why string) chat.Drawn { return chat.Drawn{Missing: why} }

func (a *App) drawn(ctx context.Context, d drawing.Drawing) chat.Drawn {
	p, err := a.parts.Artist.Draw(ctx, d)
	if err != nil {
		a.log.WarnContext(ctx, "picture not drawn", "err", err)
		return undrawn("This cannot be drawn; it is logged.")
	}
	return chat.Drawn{Pictures: []chat.Picture{p}}
}

// printed is the card of a record as the record is now, to read and to print.
func (a *App) printed(ctx context.Context, r reply.Reply) chat.Drawn {
	k, found, err := a.book.Find(ctx, r.PictureOf)
	if err != nil || !found {
		a.log.WarnContext(ctx, "card not printed", "record", r.PictureOf, "found", found, "err", err)
		return undrawn("The card cannot be made now; ask for it again in a minute.")
	}
	c, ok := a.cardOf(k, r.Paper)
	if !ok {
		return undrawn("There are no altitudes to print.")
	}
	pdf, err := a.parts.Artist.PDF(ctx, c)
	if err != nil {
		a.log.WarnContext(ctx, "card not printed", "record", k.ID, "err", err)
		return undrawn("This card does not fit on one page; print the record from firn's page instead.")
	}
	out := a.drawn(ctx, c)
	for i := range out.Pictures {
		out.Pictures[i].Name = k.ID + ".png"
	}
	out.Files = []chat.File{{Name: k.ID + ".pdf", Type: "application/pdf", Alt: c.Alt(), Data: pdf}}
	return out
}

// DayDrawn is Day for a reader who only looks: false where there is none.
func (a *App) DayDrawn(ctx context.Context, ident string) (drawing.Drawing, bool) {
	d, err := a.Day(ctx, ident)
	if err != nil {
		a.log.DebugContext(ctx, "no picture of the day", "base", ident, "err", err)
	}
	return d, err == nil
}
