package main

import (
	"context"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"time"

	"firn/adapters/console"
	"firn/adapters/picture"
	"firn/bot"
	"firn/bot/chat"
	"firn/bot/config"
	"firn/bot/drawing"
	"firn/bot/record"
	"firn/bot/reply"
	"firn/engine/coldwatch"
)

// endsIn says that a file's name ends in a way: what opens it goes by that.
func endsIn(file, end string) bool { return strings.EqualFold(filepath.Ext(file), end) }

// pictureCommand draws an answer, or the day of a base.
type pictureCommand struct {
	files
	Kind string `help:"profile, curve, day or season." default:"profile" enum:"profile,curve,day,season"`
	SVG  bool   `name:"svg" help:"Write SVG, not PNG; a file that ends in .svg is one anyway."`
	At   string `help:"Answer as of this time (RFC 3339), not now." placeholder:"TIME"`
	Out  string `name:"out" short:"o" help:"File to write." placeholder:"FILE" required:""`
}

// Help is what kong shows below the flags.
func (pictureCommand) Help() string {
	return "The message is one that firn answers with corrected altitudes; for --kind day and season it is a base's ident. A season is what the store has observed."
}

// cardCommand makes the page to print and clip to the kneeboard.
type cardCommand struct {
	files
	Paper string `help:"a5 or half-letter." default:"a5" enum:"a5,half-letter"`
	PNG   bool   `name:"png" help:"Write PNG, not PDF; a file that ends in .png is one anyway."`
	At    string `help:"Answer as of this time (RFC 3339), not now." placeholder:"TIME"`
	By    string `help:"Who computed it, as the card shows; without it there is a line to write the name." placeholder:"NAME"`
	Out   string `name:"out" short:"o" help:"File to write." placeholder:"FILE" required:""`
}

// Help is what kong shows below the flags.
func (cardCommand) Help() string {
	return "The message is one that firn answers with corrected altitudes, or the name of a record in the store, such as KALOMI-RUTA: its card says who checked it."
}

// onlyIf is the store of a command that may do without one.
func onlyIf(needed bool) opening {
	if needed {
		return mustBeThere
	}
	return noStore
}

// cardHolds is how long a card from the command line holds: as long as a
// record does when nothing is configured.
const cardHolds = 6 * time.Hour

// Run draws.
func (c *pictureCommand) Run(ctx context.Context, h host) error {
	now, err := clock(c.At, h.now)
	if err != nil {
		return err
	}
	s, err := newServices(ctx, h, wanted{files: c.files, level: slog.LevelWarn, now: now, store: onlyIf(c.Kind == "season")})
	if err != nil {
		return err
	}
	defer s.close()
	artist, err := picture.New()
	if err != nil {
		return err
	}
	var d drawing.Drawing
	switch c.Kind {
	case "day":
		if d, err = s.day(ctx, strings.TrimSpace(h.message)); err != nil {
			return err
		}
	case "season":
		if d, err = s.season(ctx, strings.TrimSpace(h.message)); err != nil {
			return err
		}
	default:
		r, err := s.answered(ctx, h)
		if err != nil {
			return err
		}
		if d = drawingOf(c.Kind, r); d == nil {
			return fmt.Errorf("there is nothing to draw in the answer to %q: it has no altitudes", h.message)
		}
	}
	if c.SVG || endsIn(c.Out, ".svg") {
		text, err := artist.SVG(ctx, d)
		return written(h, c.Out, text, d.Alt(), err)
	}
	p, err := artist.Draw(ctx, d)
	return written(h, c.Out, p.PNG, d.Alt(), err)
}

// Run makes the card.
func (c *cardCommand) Run(ctx context.Context, h host) error {
	now, err := clock(c.At, h.now)
	if err != nil {
		return err
	}
	words := strings.Fields(h.message)
	name, n, named := record.ReadName(words)
	named = named && n == len(words)
	s, err := newServices(ctx, h, wanted{files: c.files, level: slog.LevelWarn, now: now, store: onlyIf(named)})
	if err != nil {
		return err
	}
	defer s.close()
	card, ok, err := drawing.Kneeboard{}, false, error(nil)
	if named {
		card, ok, err = s.kept(ctx, name, c.Paper)
	} else {
		card, ok, err = c.fresh(ctx, h, s)
	}
	if err != nil {
		return err
	}
	if !ok {
		return fmt.Errorf("there is nothing to print in the answer to %q: it has no altitudes", h.message)
	}
	artist, err := picture.New()
	if err != nil {
		return err
	}
	if c.PNG || endsIn(c.Out, ".png") {
		p, err := artist.Draw(ctx, card)
		return written(h, c.Out, p.PNG, card.Alt(), err)
	}
	pdf, err := artist.PDF(ctx, card)
	return written(h, c.Out, pdf, card.Alt(), err)
}

// kept is the card of a record in the store.
func (s *services) kept(ctx context.Context, name, paper string) (drawing.Kneeboard, bool, error) {
	k, found, err := s.book.Find(ctx, name)
	if err == nil && !found {
		err = fmt.Errorf("no record is called %s in %s", name, s.where)
	}
	if err != nil {
		return drawing.Kneeboard{}, false, err
	}
	card, ok := s.cardOf(k, paper)
	return card, ok, nil
}

// fresh is the card of the answer to the command's message, which leaves no
// record.
func (c *cardCommand) fresh(ctx context.Context, h host, s *services) (drawing.Kneeboard, bool, error) {
	r, err := s.answered(ctx, h)
	if err != nil {
		return drawing.Kneeboard{}, false, err
	}
	paper, _ := drawing.ParsePaper(c.Paper) // kong has looked
	card, ok := drawing.KneeboardOf(r, drawing.Standing{
		Computed: drawing.Signed{By: c.By, At: s.now()}, ValidUntil: s.now().Add(cardHolds),
		Now: s.now(), Zone: s.bot.Zone(r.Station.Ident), Paper: paper,
	})
	return card, ok, nil
}

// answered is the answer to the command's message; one that needs fixing has
// been printed.
func (s *services) answered(ctx context.Context, h host) (reply.Reply, error) {
	r, err := s.bot.Handle(ctx, bot.Message{Surface: "console", Text: h.message, At: s.now(), Direct: true, Duty: true})
	if err != nil {
		return r, err
	}
	if r.Problem != nil {
		if err := console.Render(h.stdout, r, styleFor(h)); err != nil {
			return r, err
		}
		return r, errNeedsFixing
	}
	return r, nil
}

// drawingOf is the picture of an answer, nil where there is nothing to draw.
func drawingOf(kind string, r reply.Reply) drawing.Drawing {
	if kind == "curve" {
		if d, ok := drawing.CurveOf(r); ok {
			return d
		}
		return nil
	}
	if d, ok := drawing.ProfileOf(r, r.Procedure); ok {
		return d
	}
	return nil
}

// written writes a picture and says what it shows.
func written(h host, path string, data []byte, alt string, err error) error {
	if err != nil {
		return err
	}
	if err := os.WriteFile(path, data, 0o600); err != nil {
		return err
	}
	_, err = fmt.Fprintf(h.stdout, "%s: %s\n", path, alt)
	return err
}

// day is the picture of a base's day: the forecast that the watch judges by,
// against the line.
func (s *services) day(ctx context.Context, ident string) (drawing.Drawing, error) {
	st, ok := s.loaded.Station(ident)
	if !ok {
		return nil, fmt.Errorf("%w: %q is no station of the configuration", errUsage, ident)
	}
	window, ok := s.watch.Window(st.Ident, s.now())
	if !ok {
		return nil, fmt.Errorf("%s is not watched", st.Ident)
	}
	j, f, err := s.watch.Judged(ctx, st.Ident, s.now())
	if err != nil {
		return nil, err
	}
	if f == nil {
		return nil, fmt.Errorf("%s: %s", st.Ident, j.Note)
	}
	d, ok := drawing.DayOf(baseOf(st), f, window, lineOf(st), s.now())
	if !ok {
		return nil, fmt.Errorf("%s: the forecast has nothing to draw", st.Ident)
	}
	return d, nil
}

// seasonDays is how far back a season goes: a year.
const seasonDays = 365

// season is the picture of a base's daily lows, as the store has them.
func (s *services) season(ctx context.Context, ident string) (drawing.Drawing, error) {
	st, ok := s.loaded.Station(ident)
	if !ok {
		return nil, fmt.Errorf("%w: %q is no station of the configuration", errUsage, ident)
	}
	if st.Restriction == nil {
		return nil, fmt.Errorf("%s has no restriction temperature to hold a season against", st.Ident)
	}
	all, err := s.store.Observed(ctx, st.Ident, s.now().AddDate(0, 0, -seasonDays), s.now().Add(time.Minute))
	if err != nil {
		return nil, err
	}
	lows := make([]drawing.Low, len(all))
	for i, o := range all {
		lows[i] = drawing.Low{Day: o.At, C: o.C}
	}
	d, ok := drawing.SeasonOf(baseOf(st), lows, *st.Restriction, "observations in "+s.where)
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

// pictures draws what is shown with an answer on chat services: what was asked
// for. The profile of an answer is under More.
func (s *services) pictures(artist func() (*picture.Artist, error)) func(context.Context, reply.Reply) chat.Drawn {
	return func(ctx context.Context, r reply.Reply) chat.Drawn {
		if r.Picture == "" {
			return chat.Drawn{}
		}
		a, err := artist() // its fonts are loaded when the first is drawn
		if err != nil {
			s.log.ErrorContext(ctx, "no pictures", "err", err)
			return undrawn("firn cannot draw here; it is logged.")
		}
		switch r.Picture {
		case "card":
			return s.printed(ctx, a, r)
		case "day":
			d, err := s.day(ctx, r.PictureOf)
			if err != nil {
				s.log.DebugContext(ctx, "no picture of the day", "base", r.PictureOf, "err", err)
				return undrawn("There is no forecast of " + r.PictureOf + " to draw. That does not mean warm.")
			}
			return s.drawn(ctx, a, r, d)
		}
		d := drawingOf(r.Picture, r)
		if d == nil {
			return chat.Drawn{}
		}
		return s.drawn(ctx, a, r, d)
	}
}

// undrawn says why a picture is not there.
func undrawn(why string) chat.Drawn { return chat.Drawn{Missing: why} }

func (s *services) drawn(ctx context.Context, a *picture.Artist, r reply.Reply, d drawing.Drawing) chat.Drawn {
	p, err := a.Draw(ctx, d)
	if err != nil {
		s.log.WarnContext(ctx, "picture not drawn", "err", err)
		return undrawn("This cannot be drawn; it is logged.")
	}
	return chat.Drawn{Pictures: []chat.Picture{p}}
}

// printed is the card of a record as the record is now, to read and to print.
func (s *services) printed(ctx context.Context, a *picture.Artist, r reply.Reply) chat.Drawn {
	k, found, err := s.book.Find(ctx, r.PictureOf)
	if err != nil || !found {
		s.log.WarnContext(ctx, "card not printed", "record", r.PictureOf, "found", found, "err", err)
		return undrawn("The card cannot be made now; ask for it again in a minute.")
	}
	c, ok := s.cardOf(k, r.Paper)
	if !ok {
		return undrawn("There are no altitudes to print.")
	}
	pdf, err := a.PDF(ctx, c)
	if err == nil {
		out := s.drawn(ctx, a, r, c)
		for i := range out.Pictures {
			out.Pictures[i].Name = k.ID + ".png"
		}
		out.Files = []chat.File{{Name: k.ID + ".pdf", Type: "application/pdf", Alt: c.Alt(), Data: pdf}}
		return out
	}
	s.log.WarnContext(ctx, "card not printed", "record", k.ID, "err", err)
	return undrawn("This card does not fit on one page; print the record from firn's page instead.")
}

// cardOf is a record's card as the record is now.
func (s *services) cardOf(k record.Record, paper string) (drawing.Kneeboard, bool) {
	standing := drawing.StandingOf(k, s.now(), s.bot.Zone)
	standing.Paper, _ = drawing.ParsePaper(paper) // else A5
	return drawing.KneeboardOf(k.Reply, standing)
}
