package app

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync"
	"time"

	"firn/bot/config"
	"firn/bot/weather"
	"firn/engine/coldwatch"
)

// How far the weather's own times may be from this clock. Reports are made each
// hour at least; both figures are ours.
const (
	weatherAhead = 10 * time.Minute
	weatherOld   = 3 * time.Hour
)

// mostLacking is how many bases without a forecast are named.
const mostLacking = 20

// lookAhead is how far ahead a forecast is to say something: the longest duty
// window.
const lookAhead = 36 * time.Hour

// weather asks every source for every watched base.
func (d *Doctor) weather(ctx context.Context, a *App) {
	idents := a.watched()
	if len(a.parts.Sources) == 0 {
		d.Note("weather", "no source: temperatures are typed, and the watch has no forecasts")
	}
	asked := &asked{forecast: map[string]bool{}, silent: map[string]string{}}
	for _, src := range a.parts.Sources {
		if !d.source(ctx, src, idents, asked) {
			return
		}
	}
	d.times(asked.newest)
	lacking := slices.DeleteFunc(slices.Clone(idents), func(i string) bool { return asked.forecast[i] })
	switch {
	case len(lacking) == 0:
	case len(lacking) == len(idents):
		d.Sick("weather", "no source has a forecast for any watched base: every morning will be \"no forecast\"%s", asked.useless(lacking))
	default:
		more := ""
		if n := len(lacking) - mostLacking; n > 0 {
			more = fmt.Sprintf(" and %d more", n)
		}
		d.Sick("weather", "no source has a forecast for %d of %d watched bases, and each of their mornings will be \"no forecast\": %s%s%s", len(lacking), len(idents), strings.Join(lacking[:min(len(lacking), mostLacking)], ", "), more, asked.useless(lacking))
	}
	for _, src := range a.parts.Sources {
		f, ok := src.(interface {
			Problems(ctx context.Context) ([]error, error)
		})
		if !ok {
			continue
		}
		problems, err := f.Problems(ctx)
		if err != nil {
			continue // counted above
		}
		for _, p := range problems {
			d.Note("weather", "%s: %v", src.Name(), p)
		}
	}
}

// asked is what all sources had.
type asked struct {
	mu       sync.Mutex
	newest   time.Time         // of all sources but what people type
	forecast map[string]bool   // the bases that have one
	silent   map[string]string // why one that a base has says nothing of what is to come
}

// useless says why forecasts that are there do not count, by the first.
func (a *asked) useless(idents []string) string {
	for _, ident := range idents {
		if why := a.silent[ident]; why != "" {
			return "; that of " + ident + " does not count: " + why
		}
	}
	return ""
}

// answers are those of one source.
type answers struct {
	mu                         sync.Mutex
	observed, forecast, failed int
	first                      error // of those that failed
}

func (c *answers) count(n *int, err error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	switch {
	case err == nil:
		*n++
	case !errors.Is(err, weather.ErrNone):
		if c.failed++; c.first == nil {
			c.first = err
		}
	}
}

// source asks one source; false: there is no time left.
func (d *Doctor) source(ctx context.Context, src weather.Source, idents []string, all *asked) bool {
	dated := func(at time.Time) {
		if src.Name() != string(config.Typed) && at.After(all.newest) {
			all.newest = at
		}
	}
	now := d.Now()
	var c answers
	err := weather.Each(ctx, idents, 4, func(ctx context.Context, ident string) {
		ctx, cancel := context.WithTimeout(ctx, weather.SourceLimit)
		defer cancel()
		o, err := src.Observation(ctx, ident)
		c.count(&c.observed, err)
		if err == nil {
			all.mu.Lock()
			dated(o.At)
			all.mu.Unlock()
		}
		f, err := src.Forecast(ctx, ident)
		c.count(&c.forecast, err)
		if err == nil {
			// As the watch judges it: one that has ended, or has no temperature, is none.
			j := coldwatch.Judge(coldwatch.Window{From: now, To: now.Add(lookAhead)}, coldwatch.Line{Restriction: coldwatch.NoRestriction}, &f.Forecast)
			all.mu.Lock()
			defer all.mu.Unlock()
			dated(f.Issued)
			if j.State == coldwatch.NoForecast {
				all.silent[ident] = src.Name() + ": " + j.Note
				return
			}
			all.forecast[ident] = true
		}
	})
	if err != nil {
		return false
	}
	line := fmt.Sprintf("%s: observations of %d, forecasts for %d of %d watched bases", src.Name(), c.observed, c.forecast, len(idents))
	if c.first != nil {
		d.Fails("weather", fmt.Errorf("%s; %d questions failed, the first: %w", line, c.failed, c.first))
	} else {
		d.well("weather", "%s", line)
	}
	return true
}

// times holds this clock against the newest report.
func (d *Doctor) times(newest time.Time) {
	switch age := d.Now().Sub(newest); {
	case newest.IsZero():
	case age < -weatherAhead:
		d.Sick("clock", "the newest weather report is of %s, which is %s ahead of this clock: set it by a time service", newest.UTC().Format(time.RFC3339), (-age).Round(time.Minute))
	case age > weatherOld:
		d.Sick("clock", "the newest weather report is of %s, %s ago: this clock is wrong, or every source stands still", newest.UTC().Format(time.RFC3339), age.Round(time.Minute))
	}
}
