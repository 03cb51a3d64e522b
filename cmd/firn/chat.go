package main

import (
	"context"
	"fmt"
	"io"
	"log/slog"
	"os"

	"golang.org/x/term"

	"firn/adapters/console"
	"firn/adapters/sqlstore"
	"firn/cmd/wiring"
)

// chatCommand is the interactive console.
type chatCommand struct {
	wiring.Places
}

// Run talks until the input ends.
func (c *chatCommand) Run(ctx context.Context, h host) error {
	w := wiring.Wanted{Places: c.Places, Level: slog.LevelWarn, Now: h.now, Store: wiring.MayCreate}
	s, err := wiring.New(ctx, h.wiring(), w)
	if sqlstore.Away(err) { // a figure without a record is better than none
		fmt.Fprintf(h.stderr, "firn: %v\nfirn: messages are answered all the same, and nothing of it is kept; what is stored, such as imported procedures, is not known\n", err)
		w.Store = wiring.NoStore
		s, err = wiring.New(ctx, h.wiring(), w)
	}
	if err != nil {
		return err
	}
	defer s.Close()
	b := s.Spoken()
	in, inOK := h.stdin.(*os.File)
	out, outOK := h.screen().(*os.File)
	if !inOK || !outOK || !term.IsTerminal(int(in.Fd())) || !term.IsTerminal(int(out.Fd())) {
		return console.Chat(ctx, b, h.now, console.Plain(h.stdin), h.stdout, console.Style{Talk: true})
	}
	fmt.Fprintln(out, "Type a message, “more” for all of the answer to it, “help”, or “quit”.")
	t, err := console.Open(int(in.Fd()), struct {
		io.Reader
		io.Writer
	}{in, out})
	if err != nil {
		return err
	}
	defer t.Close()
	style := styleFor(h)
	style.Talk = true
	return console.Chat(ctx, b, h.now, t, t, style)
}
