package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"sync"
	"time"

	"firn/bot/weather"
)

// doctorCommand looks whether everything is as it must be.
type doctorCommand struct {
	Config string `help:"Configuration file; without it the demo region." placeholder:"FILE"`
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
func (d *doctor) note(what, format string, args ...any) { d.print("note ", what, format, args) }

func (d *doctor) print(mark, what, format string, args []any) {
	fmt.Fprintf(d.h.stdout, "%s  %-8s  %s\n", mark, what, fmt.Sprintf(format, args...))
}

// Run looks at everything and goes on after what is wrong.
func (c *doctorCommand) Run(ctx context.Context, h host) error {
	d := &doctor{h: h}
	s, err := newServices(ctx, h, wanted{config: c.Config, level: slog.LevelError, now: h.now, screen: h.stdout, store: true})
	if err != nil {
		// Without the store the rest can still be looked at.
		d.sick("start", "%v", err)
		if s, err = newServices(ctx, h, wanted{config: c.Config, level: slog.LevelError, now: h.now}); err != nil {
			return errIll
		}
	}
	defer s.close()
	d.configuration(s)
	d.clock(ctx, s)
	d.storage(ctx, s)
	d.weather(ctx, s)
	d.next(s)
	if d.ill {
		return errIll
	}
	return nil
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
			d.sick("clock", "the database does not tell its time: %v", err)
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
		d.sick("store", "%s: %v", s.where, err)
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

// weather asks every source for every watched base.
func (d *doctor) weather(ctx context.Context, s *services) {
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
			_, err := src.Observation(ctx, ident)
			count(&observed, err)
			_, err = src.Forecast(ctx, ident)
			count(&forecast, err)
		})
		if err != nil {
			return
		}
		line := fmt.Sprintf("%s: observations of %d, forecasts for %d of %d watched bases", src.Name(), observed, forecast, len(idents))
		if why != nil {
			d.sick("weather", "%s; %d questions failed, the first: %v", line, failed, why)
			continue
		}
		d.well("weather", "%s", line)
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
