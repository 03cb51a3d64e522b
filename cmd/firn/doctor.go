package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"path/filepath"

	"firn/adapters/files"
	"firn/adapters/machine"
	"firn/adapters/sqlstore"
	"firn/bot/app"
	"firn/cmd/wiring"
)

// doctorCommand looks whether everything is as it must be.
type doctorCommand struct {
	wiring.Places
}

// errIll ends the command with exitOther; what is wrong has been printed.
var errIll = errors.New("something needs mending; see above")

// slogNothing is above every level: the doctor says itself what it finds.
const slogNothing = slog.LevelError + 1

// Run looks at everything and goes on after what is wrong.
func (c *doctorCommand) Run(ctx context.Context, h host) error {
	d := &app.Doctor{Advice: machine.Advice, Now: h.now, Flags: c.Flags(), Print: func(m app.Mark, what, text string) {
		fmt.Fprintf(h.stdout, "%-5s  %-8s  %s\n", m, what, text)
	}}
	machine.Env(h.getenv).Files([]string{wiring.EnvDatabase, wiring.EnvSlackApp, wiring.EnvSlackBot, wiring.EnvDiscord},
		func(text string) { d.Note("secrets", "%s", text) }, func(text string) { d.Sick("secrets", "%s", text) })
	w := wiring.Wanted{Places: c.Places, Level: slogNothing, Now: h.now, Screen: h.stdout, Store: wiring.MustExist, Chat: true}
	s := examined(ctx, h, d, w)
	if s == nil {
		if at := (sqlstore.Place{File: files.Beside(filepath.Dir(c.Config), c.Data)}); at.Served() {
			d.Note("serve", "a firn serve runs on %s, and goes on with the configuration that it has; one that is started or reloaded with this is refused", at.File)
		} else {
			d.Note("serve", "none was looked for; one that runs goes on with the configuration that it has, and a start with this is refused")
		}
		return errIll
	}
	defer s.Close()
	d.Examine(ctx, s.App, thisMachine{s})
	if d.Ill() {
		return errIll
	}
	return nil
}

// examined opens what can be opened: without what fails the rest can still be
// looked at. nil where nothing can.
func examined(ctx context.Context, h host, d *app.Doctor, w wiring.Wanted) *wiring.Services {
	told := map[string]bool{} // of another way to open the store
	w.Left = func(err error) {
		if text := err.Error(); !told[text] {
			told[text] = true
			d.Fails("start", err)
		}
	}
	for {
		s, err := wiring.New(ctx, h.wiring(), w)
		if err == nil {
			return s
		}
		_, old := errors.AsType[sqlstore.OldError](err)
		switch {
		case w.Store == wiring.NoStore:
			w.Left(err)
			return nil
		case w.Store == wiring.ToRead:
			d.Fails("store", fmt.Errorf("nor can it be read: %w", err))
		case old:
			d.Note("store", "%v", err) // so it is before each upgrade
		case errors.Is(err, sqlstore.ErrNone):
			d.Sick("store", "%v", err)
		case sqlstore.Unwritable(err):
			d.Fails("store", fmt.Errorf("nothing can be written to it: %w", err))
			w.Store = wiring.ToRead
			continue
		default:
			w.Left(err)
		}
		w.Store = wiring.NoStore
	}
}

// thisMachine is what the doctor looks at besides.
type thisMachine struct{ *wiring.Services }

// Disk is where the store's file is, or where posts are written.
func (m thisMachine) Disk(shared bool) app.Disk {
	if shared {
		return machine.Disk(m.Loaded.Posts())
	}
	return machine.Disk(filepath.Dir(m.Loaded.StoreFile()))
}

// Certificate is the page's.
func (m thisMachine) Certificate() *app.Certificate { return m.Loaded.Front().Certificate(m.Log) }

// Plain is where others reach the page without TLS.
func (m thisMachine) Plain() string {
	if o := m.Loaded.Front(); o.Plain() {
		return o.Listen
	}
	return ""
}
