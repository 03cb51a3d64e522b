package main

import (
	"context"
	"fmt"
	"log/slog"
	"os"
	"time"

	"golang.org/x/term"

	"firn/adapters/console"
	"firn/cmd/wiring"
)

// askCommand answers one message, or one a line with "-".
type askCommand struct {
	Config string `help:"Configuration file; without it the demo region." placeholder:"FILE"`
	JSON   bool   `name:"json" help:"Print the reply as one JSON object a line. With - for the message, read a message a line."`
	Full   bool   `help:"Print everything: each radio call, the cautions with their sources, where each figure is from."`
	At     string `help:"Answer as of this time (RFC 3339), not now." placeholder:"TIME"`
}

// Help is what kong shows below the flags.
func (askCommand) Help() string {
	return "Everything from the first word that is not one of these flags is the message, also when it begins with a minus sign; the flags may stand behind it as well."
}

// Run answers.
func (c *askCommand) Run(ctx context.Context, h host) error {
	now, err := clock(c.At, h.now)
	if err != nil {
		return err
	}
	s, err := wiring.New(ctx, h.wiring(), wiring.Wanted{Places: wiring.Places{Config: c.Config}, Level: slog.LevelWarn, Now: now})
	if err != nil {
		return err
	}
	defer s.Close()
	if h.message == "-" {
		fixing, err := console.Answer(ctx, s.Bot(), now, h.stdin, h.stdout, c.JSON, c.Full)
		if err == nil && fixing {
			err = errNeedsFixing
		}
		return err
	}
	r, err := s.Bot().Handle(ctx, console.Message(h.message, now()))
	if err != nil {
		return err
	}
	if c.JSON {
		err = console.JSON(h.stdout, r)
	} else {
		style := styleFor(h)
		style.Full = c.Full
		err = console.Render(h.stdout, r, style)
	}
	if err == nil && r.Problem != nil {
		err = errNeedsFixing
	}
	return err
}

// clock is the time to answer as of.
func clock(at string, now func() time.Time) (func() time.Time, error) {
	if at == "" {
		return now, nil
	}
	t, err := time.Parse(time.RFC3339, at)
	if err != nil {
		return nil, fmt.Errorf("%w: --at %q is not a time such as 2026-01-15T06:00:00Z", errUsage, at)
	}
	return func() time.Time { return t }, nil
}

// styleFor uses colour on a terminal, unless NO_COLOR is set.
func styleFor(h host) console.Style {
	f, ok := h.screen().(*os.File)
	return console.Style{Colour: ok && term.IsTerminal(int(f.Fd())) && h.getenv("NO_COLOR") == "" && h.getenv("TERM") != "dumb"}
}
