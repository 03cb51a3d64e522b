package awc

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"time"

	"golang.org/x/time/rate"

	"firn/adapters/httpwx/fetch"
	"firn/bot/weather"
)

// DefaultURL is the service's own address (from memory).
const DefaultURL = "https://aviationweather.gov"

// Options are what a Source is made of; the zero value asks the service for
// one station at a time.
type Options struct {
	fetch.Options // BaseURL empty: DefaultURL

	// Idents are the stations that will be asked for. They are asked for
	// together, so that many cost few requests; any other is asked for alone.
	Idents []string
	Batch  int  // stations in one request; 0: 100
	Raw    bool // ask for the raw text alone, no JSON
	// Alone is how many requests a minute may be for stations that are not among
	// Idents; 0: AlonePerMinute.
	Alone int
}

// AlonePerMinute is how many requests a minute are made for stations that
// nobody configured: well below the hundred a minute that the service allows
// (from memory), with room for those of the configured ones.
const AlonePerMinute = 40

// The longest that a METAR and a TAF stay the newest of a station: one is made
// every hour, the other every six (WMO and FAA practice, from memory).
const (
	metarDue = time.Hour
	tafDue   = 6 * time.Hour
)

// Source is the service as a weather.Source.
type Source struct {
	client *fetch.Client
	alone  *rate.Limiter
	batch  map[string]string // ident to its comma-separated batch
	raw    bool
	now    func() time.Time
}

var (
	_ weather.Source   = (*Source)(nil)
	_ weather.Labelled = (*Source)(nil)
)

// ceiling is the longest that an answer is used unasked; ours. A special
// report comes at any minute.
const ceiling = 10 * time.Minute

// New makes a source. The error says what is wrong with the options and does
// not repeat the URL.
func New(o Options) (*Source, error) {
	if o.BaseURL == "" {
		o.BaseURL = DefaultURL
	}
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Batch <= 0 {
		o.Batch = 100
	}
	// Both the site and its data address are taken for the base.
	o.BaseURL = strings.TrimRight(o.BaseURL, "/")
	o.BaseURL = strings.TrimSuffix(strings.TrimSuffix(o.BaseURL, "/data"), "/api")
	if o.Alone <= 0 {
		o.Alone = AlonePerMinute
	}
	c, err := fetch.New(o.Options)
	if err != nil {
		return nil, fmt.Errorf("weather awc: %w", err)
	}
	s := &Source{client: c, alone: rate.NewLimiter(rate.Every(time.Minute/time.Duration(o.Alone)), o.Alone/2+1), batch: map[string]string{}, raw: o.Raw, now: o.Now}
	var idents []string
	for _, i := range o.Idents {
		if ident, ok := weather.Ident(i); ok {
			idents = append(idents, ident)
		}
	}
	// In order, so that a batch has one URL and its cache entry for ever.
	slices.Sort(idents)
	for part := range slices.Chunk(slices.Compact(idents), o.Batch) {
		all := strings.Join(part, ",")
		for _, ident := range part {
			s.batch[ident] = all
		}
	}
	return s, nil
}

// Name is that of the configuration.
func (s *Source) Name() string { return "awc" }

// Labels are what stands in Source.
func (s *Source) Labels() (observation, forecast string) { return "METAR (awc)", "TAF (awc)" }

// Observation is the newest METAR's.
func (s *Source) Observation(ctx context.Context, ident string) (weather.Observation, error) {
	o, err := ask(ctx, s, "metar", ident, (*weather.Board).Observation)
	if err != nil {
		return weather.Observation{}, fmt.Errorf("weather awc: %s: %w", ident, err)
	}
	return o, nil
}

// Forecast is the newest TAF's.
func (s *Source) Forecast(ctx context.Context, ident string) (weather.Forecast, error) {
	f, err := ask(ctx, s, "taf", ident, (*weather.Board).Forecast)
	if err != nil {
		return weather.Forecast{}, fmt.Errorf("weather awc: %s: %w", ident, err)
	}
	return f, nil
}

func ask[T any](ctx context.Context, s *Source, what, ident string, look func(*weather.Board, string) (T, error)) (T, error) {
	var zero T
	if err := ctx.Err(); err != nil {
		return zero, err
	}
	ident, ok := weather.Ident(ident)
	if !ok {
		return zero, weather.ErrNone
	}
	ids := s.batch[ident]
	listed := ids != ""
	if !listed {
		ids = ident
	}
	a, err := s.board(ctx, what, ids, !listed)
	if ids != ident && (refused(err) || err == nil && a.notFound) {
		// One of the batch may be what the service refuses, or answers
		// "not found" to.
		a, err = s.board(ctx, what, ident, false)
	}
	if err != nil {
		return zero, err
	}
	return look(&a.Board, ident)
}

// refused says whether the service has refused the request as it is.
func refused(err error) bool {
	e, ok := errors.AsType[*fetch.StatusError](err)
	if !ok {
		return false
	}
	switch e.Code {
	case http.StatusBadRequest, http.StatusRequestEntityTooLarge, http.StatusRequestURITooLong, http.StatusUnprocessableEntity:
		return true
	}
	return false
}

// board is what the service has of some stations. The raw text is asked for
// when the JSON cannot be read. One that is asked for alone and not configured is
// asked for at a pace, and again when a newer report is due.
func (s *Source) board(ctx context.Context, what, ids string, alone bool) (*answer, error) {
	request := func(format, types string) fetch.Request {
		r := request(what, ids, format, types)
		if alone {
			r.Pace, r.Due = s.alone, due(what, ids)
		}
		return r
	}
	var unreadable error
	if !s.raw {
		b, err := fetch.Get(ctx, s.client, request("json", "application/json"), func(a fetch.Answer) (*answer, error) {
			return readJSON(what, a, s.now())
		})
		if !errors.Is(err, fetch.ErrUnreadable) {
			return b, err
		}
		unreadable = err
	}
	b, err := fetch.Get(ctx, s.client, request("raw", "text/plain"), func(a fetch.Answer) (*answer, error) {
		return readRaw(what, a, s.now())
	})
	if err != nil && unreadable != nil {
		err = fmt.Errorf("%w; then %w", unreadable, err)
	}
	return b, err
}

// due is when a report that follows the newest one of a station is to be
// expected; zero where there is none.
func due(what, ident string) func(value any) time.Time {
	return func(value any) time.Time {
		a, ok := value.(*answer)
		if !ok {
			return time.Time{}
		}
		if what == "taf" {
			if f, err := a.Board.Forecast(ident); err == nil && !f.Issued.IsZero() {
				return f.Issued.Add(tafDue)
			}
			return time.Time{}
		}
		if o, err := a.Board.Observation(ident); err == nil {
			return o.At.Add(metarDue)
		}
		return time.Time{}
	}
}

func request(what, ids, format string, types ...string) fetch.Request {
	return fetch.Request{
		Path:    "/api/data/" + what,
		Query:   url.Values{"ids": {ids}, "format": {format}},
		Types:   types,
		Ceiling: ceiling,
	}
}
