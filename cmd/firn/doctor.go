package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"path/filepath"

	"firn/adapters/machine"
	"firn/adapters/sqlstore"
	"firn/bot/app"
)

// doctorCommand looks whether everything is as it must be.
type doctorCommand struct {
	places
}

// errIll ends the command with exitOther; what is wrong has been printed.
var errIll = errors.New("something needs mending; see above")

// slogNothing is above every level: the doctor says itself what it finds.
const slogNothing = slog.LevelError + 1

// Run looks at everything and goes on after what is wrong.
func (c *doctorCommand) Run(ctx context.Context, h host) error {
	d := &app.Doctor{Advice: machine.Advice, Now: h.now, Print: func(m app.Mark, what, text string) {
		fmt.Fprintf(h.stdout, "%-5s  %-8s  %s\n", m, what, text)
	}}
	machine.Env(h.getenv).Files([]string{envDatabase, envSlackApp, envSlackBot, envDiscord},
		func(text string) { d.Note("secrets", "%s", text) }, func(text string) { d.Sick("secrets", "%s", text) })
	w := wanted{places: c.places, level: slogNothing, now: h.now, screen: h.stdout, store: mustBeThere, chat: true}
	s := examined(ctx, h, d, w)
	if s == nil {
		return errIll
	}
	defer s.close()
	d.Examine(ctx, s.App, thisMachine{s})
	if d.Ill() {
		return errIll
	}
	return nil
}

// examined opens what can be opened: without what fails the rest can still be
// looked at. nil where nothing can.
func examined(ctx context.Context, h host, d *app.Doctor, w wanted) *services {
	s, err := newServices(ctx, h, w)
	if err == nil {
		return s
	}
	_, old := errors.AsType[sqlstore.OldError](err)
	switch {
	case old:
		d.Note("store", "%v", err) // so it is before each upgrade
		w.store = noStore
	case errors.Is(err, sqlstore.ErrNone):
		d.Sick("store", "%v", err)
		w.store = noStore
	default:
		d.Fails("start", err)
		w.chat = false
	}
	for {
		if s, err = newServices(ctx, h, w); err == nil {
			return s
		}
		switch {
		case w.chat:
			d.Fails("start", err)
			w.chat = false
		case w.store != noStore:
			w.store = noStore
		default:
			return nil
		}
	}
}

// thisMachine is what the doctor looks at besides.
type thisMachine struct{ *services }

// Disk is where the store's file is, or where posts are written.
func (m thisMachine) Disk(shared bool) app.Disk {
	if shared {
		return machine.Disk(m.loaded.Posts())
	}
	return machine.Disk(filepath.Dir(m.loaded.StoreFile()))
}

// Certificate is the page's.
func (m thisMachine) Certificate() *app.Certificate { return m.loaded.front().Certificate(m.log) }

// Plain is where others reach the page without TLS.
func (m thisMachine) Plain() string {
	if o := m.loaded.front(); o.Plain() {
		return o.Listen
	}
	return ""
}
