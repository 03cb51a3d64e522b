package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"log/slog"
	"path/filepath"
	"strings"

	"firn/adapters/console"
	"firn/adapters/files"
	"firn/adapters/machine"
	"firn/adapters/picture"
	"firn/bot/app"
	"firn/bot/drawing"
	"firn/bot/record"
	"firn/bot/reply"
	"firn/cmd/wiring"
)

// endsIn says that a file's name ends in a way: what opens it goes by that.
func endsIn(file, end string) bool { return strings.EqualFold(filepath.Ext(file), end) }

// pictureCommand draws an answer, or the day of a base.
type pictureCommand struct {
	wiring.Places
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
	wiring.Places
	Paper string `help:"a5, half-letter or letter." default:"a5" enum:"a5,half-letter,letter"`
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
func onlyIf(needed bool) wiring.Opening {
	if needed {
		return wiring.ToRead
	}
	return wiring.NoStore
}

// Run draws.
func (c *pictureCommand) Run(ctx context.Context, h host) error {
	now, err := clock(c.At, h.now)
	if err != nil {
		return err
	}
	s, err := wiring.New(ctx, h.wiring(), wiring.Wanted{Places: c.Places, Level: slog.LevelWarn, Now: now, Store: onlyIf(c.Kind == "season")})
	if err != nil {
		return err
	}
	defer s.Close()
	var d drawing.Drawing
	switch c.Kind {
	case "day":
		d, err = s.Day(ctx, strings.TrimSpace(h.message))
	case "season":
		d, err = s.Season(ctx, strings.TrimSpace(h.message))
	default:
		r, err := answered(ctx, h, s)
		if err != nil {
			return err
		}
		if d = app.PictureOf(c.Kind, r); d == nil {
			return fmt.Errorf("there is nothing to draw in the answer to %q: it has no altitudes", h.message)
		}
	}
	if errors.Is(err, app.ErrUnknown) {
		return fmt.Errorf("%w: %w", errUsage, err)
	}
	if err != nil {
		return err
	}
	form := "png"
	if c.SVG || endsIn(c.Out, ".svg") {
		form = "svg"
	}
	return drawn(ctx, h, c.Out, form, d)
}

// Run makes the card.
func (c *cardCommand) Run(ctx context.Context, h host) error {
	now, err := clock(c.At, h.now)
	if err != nil {
		return err
	}
	words := strings.Fields(h.message)
	name, n, named := record.ReadName(words)
	named = named && n == len(words) // else it is a message
	s, err := wiring.New(ctx, h.wiring(), wiring.Wanted{Places: c.Places, Level: slog.LevelWarn, Now: now, Store: onlyIf(named)})
	if err != nil {
		return err
	}
	defer s.Close()
	card, ok, err := drawing.Kneeboard{}, false, error(nil)
	if named {
		card, ok, err = s.RecordCard(ctx, name, c.Paper)
	} else {
		var r reply.Reply
		if r, err = answered(ctx, h, s); err == nil {
			card, ok = s.AnswerCard(r, c.By, c.Paper)
		}
	}
	if err != nil {
		return err
	}
	if !ok {
		return fmt.Errorf("there is nothing to print in the answer to %q: it has no altitudes", h.message)
	}
	form := "pdf"
	if c.PNG || endsIn(c.Out, ".png") {
		form = "png"
	}
	return drawn(ctx, h, c.Out, form, card)
}

// answered is the answer to the command's message; one that needs fixing has
// been printed.
func answered(ctx context.Context, h host, s *wiring.Services) (reply.Reply, error) {
	r, err := s.Bot().Handle(ctx, console.Message(h.message, s.Now()))
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

// drawn writes a picture and says what it shows.
func drawn(ctx context.Context, h host, path, form string, d drawing.Drawing) error {
	data, err := new(picture.Lazy).Draws(ctx, form, d)
	if err != nil {
		return err
	}
	err = written(path, 0o600, func(out io.Writer) error {
		_, err := out.Write(data)
		return err
	})
	if err != nil {
		return err
	}
	_, err = fmt.Fprintf(h.stdout, "%s: %s\n", path, d.Alt())
	return err
}

// written writes the file of a command, or says what to do.
func written(path string, mode fs.FileMode, write func(io.Writer) error) error {
	err := files.Write(path, mode, write)
	if say := machine.Advice(err); say != "" {
		return fmt.Errorf("%w; %s", err, say)
	}
	return err
}
