package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"

	"firn/adapters/page"
	"firn/adapters/postgres"
	"firn/adapters/sqlite"
	"firn/bot/approach"
	"firn/bot/config"
	"firn/bot/weather"
)

// doctorCommand looks whether everything is as it must be.
type doctorCommand struct {
	files
}

// errIll ends the command with exitOther; what is wrong has been printed.
var errIll = errors.New("something needs mending; see above")

// doctor prints what it finds.
type doctor struct {
	h   host
	ill bool
}

func (d *doctor) well(what, format string, args ...any) { d.print("ok   ", what, format, args) }
func (d *doctor) sick(what, format string, args ...any) {
	d.ill = true
	d.print("WRONG", what, format, args)
}

// fails prints an error with what to do about it.
func (d *doctor) fails(what string, err error) {
	if say := advice(err); say != "" {
		d.sick(what, "%v; %s", err, say)
		return
	}
	d.sick(what, "%v", err)
}

func (d *doctor) note(what, format string, args ...any) { d.print("note ", what, format, args) }

func (d *doctor) print(mark, what, format string, args []any) {
	fmt.Fprintf(d.h.stdout, "%s  %-8s  %s\n", mark, what, fmt.Sprintf(format, args...))
}

// Run looks at everything and goes on after what is wrong.
func (c *doctorCommand) Run(ctx context.Context, h host) error {
	d := &doctor{h: h}
	d.secrets()
	w := wanted{files: c.files, level: slogNothing, now: h.now, screen: h.stdout, store: mustBeThere, chat: true}
	s := d.start(ctx, w)
	if s == nil {
		return errIll
	}
	defer s.close()
	d.configuration(s)
	d.clock(ctx, s)
	d.disk(s)
	d.storage(ctx, s)
	d.chat(ctx, s)
	d.reach(ctx, s)
	d.certificate(s)
	d.charts(ctx, s)
	d.weather(ctx, s)
	d.next(s)
	if d.ill {
		return errIll
	}
	return nil
}

// start opens what can be opened: without what fails the rest can still be
// looked at. nil where nothing can.
func (d *doctor) start(ctx context.Context, w wanted) *services {
	s, err := newServices(ctx, d.h, w)
	if err == nil {
		return s
	}
	_, oldFile := errors.AsType[sqlite.OldError](err)
	_, oldDatabase := errors.AsType[postgres.OldError](err)
	switch {
	case oldFile || oldDatabase:
		d.note("store", "%v", err) // so it is before each upgrade
		w.store = noStore
	case errors.Is(err, sqlite.ErrNone) || errors.Is(err, postgres.ErrNone):
		d.sick("store", "%v", err)
		w.store = noStore
	default:
		d.fails("start", err)
		w.chat = false
	}
	for {
		if s, err = newServices(ctx, d.h, w); err == nil {
			return s
		}
		switch {
		case w.chat:
			d.fails("start", err)
			w.chat = false
		case w.store != noStore:
			w.store = noStore
		default:
			return nil
		}
	}
}

func (d *doctor) configuration(s *services) {
	watched := 0
	for i := range s.loaded.Stations {
		if s.loaded.Stations[i].Watch != nil {
			watched++
		}
	}
	d.well("config", "%s: %d stations, %d watched, rules %s", s.loaded.name, len(s.loaded.Stations), watched, s.bot.Rules().ID)
	if watched == 0 {
		d.note("config", "no station has a watch: no morning alert will come")
	}
	if s.outbox != nil {
		if err := s.channelsServed(); err != nil {
			d.sick("channels", "%v", err)
		}
	}
}

// charts tells of files of procedures that are left out, and of usual
// procedures that no alert will show.
func (d *doctor) charts(ctx context.Context, s *services) {
	for i := range s.loaded.Stations {
		st := &s.loaded.Stations[i]
		if len(st.Usual) == 0 {
			continue
		}
		all, err := s.procedures.Procedures(ctx, st.Ident)
		if err != nil {
			d.fails("charts", err)
			return
		}
		for _, name := range st.Usual {
			if _, one := approach.Find(all, name).One(); !one {
				d.sick("charts", "%s: the usual procedure %q is not stored, or is not one alone: its alerts will show no corrections for it; type it into the folder of procedures, or import it", st.Ident, name)
			}
		}
	}
	for _, l := range s.left {
		d.sick("charts", "%s; the file is left out", l)
	}
	for _, o := range s.others {
		d.note("charts", "%s: the station is not in the configuration", o)
	}
}

// reach looks at who may come to the page, and how.
func (d *doctor) reach(ctx context.Context, s *services) {
	p := s.loaded.Page
	listen := cmp.Or(p.Listen, defaultListen)
	if !page.Loopback(listen) && p.TLSCert == "" && !p.BehindProxy {
		d.sick("page", "it listens on %s, for others, without TLS: what they send, links too, can be read on the way; set tls_cert and tls_key, or behind_proxy", listen)
	}
	if !s.loaded.signIn() || s.store == nil {
		return
	}
	all, err := s.store.Tokens(ctx)
	if err != nil {
		d.fails("page", err)
		return
	}
	good := 0
	for _, t := range all {
		if t.Revoked.IsZero() {
			good++
		}
	}
	if good == 0 {
		d.sick("page", "people come in by links, and there is none: firn access add NAME makes one")
		return
	}
	d.well("page", "%d people have a link", good)
}

// slogNothing is above every level: the doctor says itself what it finds.
const slogNothing = slog.LevelError + 1

// oldest is from before this program was written: a clock that says so is
// wrong.
var oldest = time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)

// clockApart is how far this clock may be from the database's: leases of a
// minute bear more, but a forecast's age is told in minutes. The figure is ours.
const clockApart = 30 * time.Second

func (d *doctor) clock(ctx context.Context, s *services) {
	now := d.h.now()
	if now.Before(oldest) {
		d.sick("clock", "it says %s, which is past: set it", now.UTC().Format(time.RFC3339))
		return
	}
	if db, ok := s.store.(interface {
		Now(context.Context) (time.Time, error)
	}); ok {
		there, err := db.Now(ctx)
		if err != nil {
			d.fails("clock", fmt.Errorf("the database does not tell its time: %w", err))
			return
		}
		if apart := d.h.now().Sub(there).Abs(); apart > clockApart {
			d.sick("clock", "it is %s away from the database's: set both by a time service", apart.Round(time.Second))
			return
		}
	}
	d.well("clock", "%s UTC", now.UTC().Format("Mon 2 Jan 2006 15:04:05"))
}

func (d *doctor) storage(ctx context.Context, s *services) {
	if s.store == nil {
		return // said at the start
	}
	b, err := s.outbox.Backlog(ctx)
	if err != nil {
		d.fails("store", fmt.Errorf("%s: %w", s.where, err))
		return
	}
	d.well("store", "%s: %d posts wait, %d were given up", s.where, b.Waiting, b.GivenUp)
	if late := d.h.now().Sub(b.Oldest); b.Waiting > 0 && late > 5*time.Minute {
		d.sick("store", "the oldest post has waited for %s: is firn serve running, and does its chat service answer?", late.Round(time.Minute))
	}
	if b.GivenUp > 0 {
		d.note("store", "posts that were given up stay in the store; the log of firn serve says why each was")
	}
}

// secrets looks at the files that hold them.
func (d *doctor) secrets() {
	for _, name := range []string{envDatabase, envSlackApp, envSlackBot, envDiscord} {
		path := d.h.getenv(name + envFile)
		if path == "" {
			continue
		}
		if d.h.getenv(name) != "" {
			d.note("secrets", "%s is set, so that %s is not looked at", name, name+envFile)
		}
		// Where it cannot be read the start says so.
		if info, err := os.Stat(path); err == nil && info.Mode().Perm()&0o007 != 0 {
			d.sick("secrets", "everybody on this machine may reach the file of %s: chmod 600 %s", name+envFile, path)
		}
	}
}

// What the disk must have left: less and a day's records may not fit.
const (
	roomNeeded = 50 << 20
	roomWanted = 1 << 30
)

// disk tries to write where the store and the posts are.
func (d *doctor) disk(s *services) {
	dir := filepath.Dir(s.loaded.file())
	if _, shared := s.store.(replicated); shared {
		dir = s.posts()
	}
	// What is not there yet is made in what is.
	for _, err := os.Stat(dir); errors.Is(err, fs.ErrNotExist) && dir != filepath.Dir(dir); _, err = os.Stat(dir) {
		dir = filepath.Dir(dir)
	}
	f, err := os.CreateTemp(dir, ".firn-doctor-")
	if err == nil {
		_, err = f.Write(make([]byte, 4096))
		err = errors.Join(err, f.Sync(), f.Close(), os.Remove(f.Name()))
	}
	if err != nil {
		d.fails("disk", fmt.Errorf("nothing can be written in %s: %w", dir, err))
		return
	}
	free, known := spaceLeft(dir)
	switch {
	case !known:
		d.well("disk", "%s can be written to", dir)
	case free < roomNeeded:
		d.sick("disk", "%s has only %d MiB left: make room; without it alerts are neither kept nor sent", dir, free>>20)
	case free < roomWanted:
		d.note("disk", "%s has %d MiB left: make room soon", dir, free>>20)
	default:
		d.well("disk", "%s can be written to, %d GiB are left", dir, free>>30)
	}
}

// chatTime bounds the questions to one chat service.
const chatTime = 20 * time.Second

// chat asks the chat services whether they take the tokens.
func (d *doctor) chat(ctx context.Context, s *services) {
	for _, on := range s.surfaces {
		service, ok := on.(interface{ Try(context.Context) error })
		if !ok {
			continue // the page, which is ours
		}
		asking, cancel := context.WithTimeout(ctx, chatTime)
		err := service.Try(asking)
		cancel()
		if err != nil {
			d.fails(on.Name(), err)
			continue
		}
		d.well(on.Name(), "it takes the token")
	}
}

// How far the weather's own times may be from this clock. Reports are made each
// hour at least; both figures are ours.
const (
	weatherAhead = 10 * time.Minute
	weatherOld   = 3 * time.Hour
)

// times holds this clock against the newest report of all sources but what
// people type.
func (d *doctor) times(newest time.Time) {
	switch age := d.h.now().Sub(newest); {
	case newest.IsZero():
	case age < -weatherAhead:
		d.sick("clock", "the newest weather report is of %s, which is %s ahead of this clock: set it by a time service", newest.UTC().Format(time.RFC3339), (-age).Round(time.Minute))
	case age > weatherOld:
		d.sick("clock", "the newest weather report is of %s, %s ago: this clock is wrong, or every source stands still", newest.UTC().Format(time.RFC3339), age.Round(time.Minute))
	}
}

// weather asks every source for every watched base.
func (d *doctor) weather(ctx context.Context, s *services) {
	seen := struct {
		sync.Mutex
		newest   time.Time
		forecast map[string]bool // the bases that have one
	}{forecast: map[string]bool{}}
	dated := func(src weather.Source, t time.Time) {
		seen.Lock()
		defer seen.Unlock()
		if src.Name() != string(config.Typed) && t.After(seen.newest) {
			seen.newest = t
		}
	}
	var idents []string
	for i := range s.loaded.Stations {
		if s.loaded.Stations[i].Watch != nil {
			idents = append(idents, s.loaded.Stations[i].Ident)
		}
	}
	if len(s.sources) == 0 {
		d.note("weather", "no source: temperatures are typed, and the watch has no forecasts")
	}
	for _, src := range s.sources {
		var mu sync.Mutex
		observed, forecast, failed := 0, 0, 0
		var why error
		count := func(n *int, err error) {
			mu.Lock()
			defer mu.Unlock()
			switch {
			case err == nil:
				*n++
			case !errors.Is(err, weather.ErrNone):
				failed++
				if why == nil {
					why = err
				}
			}
		}
		err := weather.Each(ctx, idents, 4, func(ctx context.Context, ident string) {
			ctx, cancel := context.WithTimeout(ctx, weather.SourceLimit)
			defer cancel()
			o, err := src.Observation(ctx, ident)
			count(&observed, err)
			if err == nil {
				dated(src, o.At)
			}
			f, err := src.Forecast(ctx, ident)
			count(&forecast, err)
			if err == nil {
				dated(src, f.Issued)
				seen.Lock()
				seen.forecast[ident] = true
				seen.Unlock()
			}
		})
		if err != nil {
			return
		}
		line := fmt.Sprintf("%s: observations of %d, forecasts for %d of %d watched bases", src.Name(), observed, forecast, len(idents))
		if why != nil {
			d.fails("weather", fmt.Errorf("%s; %d questions failed, the first: %w", line, failed, why))
			continue
		}
		d.well("weather", "%s", line)
	}
	d.times(seen.newest)
	if lacking := slices.DeleteFunc(slices.Clone(idents), func(i string) bool { return seen.forecast[i] }); len(lacking) > 0 && len(lacking) == len(idents) {
		d.sick("weather", "no source has a forecast for any watched base: every morning will be \"no forecast\"")
	} else if len(lacking) > 0 {
		d.note("weather", "no source has a forecast for %s", strings.Join(lacking[:min(len(lacking), 20)], ", "))
	}
	for _, f := range s.folders {
		problems, err := f.Problems(ctx)
		if err != nil {
			continue // counted above
		}
		for _, p := range problems {
			d.note("weather", "%s: %v", f.Name(), p)
		}
	}
}

// next says when each base is looked at next and whom it tells.
func (d *doctor) next(s *services) {
	for _, n := range s.watch.Next(d.h.now()) {
		if n.At.IsZero() {
			d.sick("next", "%s has no day on which it is watched", n.Ident)
			continue
		}
		local := n.At.In(s.bot.Zone(n.Ident))
		d.well("next", "%s %s local (%s), to %s", n.Ident, local.Format("Mon 2 Jan 15:04"), n.At.UTC().Format("15:04Z"), channelList(n.Channels))
	}
}

func channelList[T fmt.Stringer](all []T) string {
	text := ""
	for i, a := range all {
		if i > 0 {
			text += ", "
		}
		text += a.String()
	}
	return text
}
