package main

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"os"
	"strings"
	"time"

	"golang.org/x/term"

	"firn/adapters/console"
	"firn/bot"
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
	return "Everything from the first word that is not one of these flags is the message, also when it begins with a minus sign."
}

// Run answers.
func (c *askCommand) Run(ctx context.Context, h host) error {
	now, err := clock(c.At, h.now)
	if err != nil {
		return err
	}
	s, err := newServices(ctx, h, wanted{files: files{Config: c.Config}, level: slog.LevelWarn, now: now})
	if err != nil {
		return err
	}
	defer s.close()
	b := s.Bot()
	if h.message == "-" {
		return c.lines(ctx, h, b, now)
	}
	r, err := b.Handle(ctx, bot.Message{Surface: "console", Text: h.message, At: now(), Direct: true, Duty: true})
	if err != nil {
		return err
	}
	if c.JSON {
		err = writeJSON(h.stdout, r)
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

// lines answers a message a line, in order.
func (c *askCommand) lines(ctx context.Context, h host, b *bot.Bot, now func() time.Time) error {
	in := bufio.NewReaderSize(h.stdin, 1<<16)
	out := bufio.NewWriter(h.stdout)
	fixing := false
	for {
		text, err := console.ReadLine(in)
		if errors.Is(err, io.EOF) && text == "" {
			break
		}
		if err != nil && !errors.Is(err, io.EOF) {
			return fmt.Errorf("read a message: %w", err)
		}
		r, err := b.Handle(ctx, lineMessage(text, now()))
		if err != nil {
			return err
		}
		fixing = fixing || r.Problem != nil
		if c.JSON {
			err = writeJSON(out, r)
		} else if err = console.Render(out, r, console.Style{Full: c.Full}); err == nil {
			_, err = out.WriteString("\n")
		}
		if err != nil {
			return err
		}
		// Whoever writes a line and waits for its answer must get it.
		if in.Buffered() == 0 {
			if err := out.Flush(); err != nil {
				return err
			}
		}
	}
	if err := out.Flush(); err != nil {
		return err
	}
	if fixing {
		return errNeedsFixing
	}
	return nil
}

// lineMessage is a line of "-": a message, or a JSON object with the message,
// its thread and who wrote it. Lines of one thread follow one another.
func lineMessage(line string, at time.Time) bot.Message {
	m := bot.Message{Surface: "console", Text: line, At: at, Direct: true, Duty: true}
	if !strings.HasPrefix(line, "{") {
		return m
	}
	var o struct {
		Text   *string `json:"text"`
		Thread string  `json:"thread"`
		User   string  `json:"user"`
	}
	if json.Unmarshal([]byte(line), &o) == nil && o.Text != nil {
		m.Text, m.Thread, m.User = *o.Text, o.Thread, o.User
	}
	return m
}

func writeJSON(w io.Writer, v any) error {
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false)
	return enc.Encode(v)
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
	f, ok := h.stdout.(*os.File)
	return console.Style{Colour: ok && term.IsTerminal(int(f.Fd())) && h.getenv("NO_COLOR") == "" && h.getenv("TERM") != "dumb"}
}
