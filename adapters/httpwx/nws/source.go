package nws

import (
	"context"
	"fmt"
	"math"
	"strings"
	"time"

	"golang.org/x/time/rate"

	"firn/adapters/httpwx/fetch"
	"firn/bot/weather"
)

// DefaultURL is the service's own address (from memory).
const DefaultURL = "https://api.weather.gov"

// Place is where a station is, in degrees, north and east positive.
type Place struct{ Lat, Lon float64 }

// Options are what a Source is made of.
type Options struct {
	fetch.Options // BaseURL empty: DefaultURL

	// Places are the stations whose place is known, by ident in capitals. The
	// service has nothing for any other.
	Places map[string]Place
	// PlaceOf knows the places of other stations; nil: nobody does.
	PlaceOf func(ident string) (Place, bool)
}

// AlonePerMinute is how many requests a minute are made for stations that
// nobody configured. The service names no figure of its own (from memory); this
// one is ours.
const AlonePerMinute = 40

// Source is the service as a weather.Source.
type Source struct {
	client *fetch.Client
	places map[string]Place
	other  func(ident string) (Place, bool)
	alone  *rate.Limiter
}

var (
	_ weather.Source   = (*Source)(nil)
	_ weather.Labelled = (*Source)(nil)
)

// The longest that an answer is used unasked; ours. Grid cells move once in
// years.
const (
	pointCeiling    = 24 * time.Hour
	forecastCeiling = time.Hour
)

const label = "hourly forecast (nws)"

// New makes a source. The error says what is wrong with the options and does
// not repeat the URL.
func New(o Options) (*Source, error) {
	if o.BaseURL == "" {
		o.BaseURL = DefaultURL
	}
	c, err := fetch.New(o.Options)
	if err != nil {
		return nil, fmt.Errorf("weather nws: %w", err)
	}
	s := &Source{client: c, places: make(map[string]Place, len(o.Places)), other: o.PlaceOf,
		alone: rate.NewLimiter(rate.Every(time.Minute/AlonePerMinute), AlonePerMinute/2)}
	for ident, p := range o.Places {
		if !(math.Abs(p.Lat) <= 90 && math.Abs(p.Lon) <= 180) {
			return nil, fmt.Errorf("weather nws: %s: no such place on earth: %v, %v", ident, p.Lat, p.Lon)
		}
		s.places[strings.ToUpper(ident)] = p
	}
	return s, nil
}

// Name is that of the configuration.
func (s *Source) Name() string { return "nws" }

// Labels are what stands in Source; there are no observations.
func (s *Source) Labels() (observation, forecast string) { return "", label }

// Observation is none, ever.
func (s *Source) Observation(ctx context.Context, ident string) (weather.Observation, error) {
	if err := ctx.Err(); err != nil {
		return weather.Observation{}, err
	}
	return weather.Observation{}, fmt.Errorf("weather nws: %s: forecasts only: %w", ident, weather.ErrNone)
}

// Forecast is the hourly one.
func (s *Source) Forecast(ctx context.Context, ident string) (weather.Forecast, error) {
	f, err := s.forecast(ctx, strings.ToUpper(ident))
	if err != nil {
		return weather.Forecast{}, fmt.Errorf("weather nws: %s: %w", ident, err)
	}
	return f, nil
}

func (s *Source) forecast(ctx context.Context, ident string) (weather.Forecast, error) {
	if err := ctx.Err(); err != nil {
		return weather.Forecast{}, err
	}
	p, ok := s.places[ident]
	var pace *rate.Limiter
	if !ok && s.other != nil {
		p, ok = s.other(ident)
		pace = s.alone
	}
	if !ok {
		return weather.Forecast{}, fmt.Errorf("its place is not known (lat and lon): %w", weather.ErrNone)
	}
	// Four decimals: more are redirected to these (from memory).
	point := fetch.Request{Path: "/points/" + decimals(p.Lat) + "," + decimals(p.Lon), Types: types, Ceiling: pointCeiling, Pace: pace}
	cell, err := fetch.Get(ctx, s.client, point, readPoint)
	switch {
	case err != nil:
		return weather.Forecast{}, err
	case cell == "":
		return weather.Forecast{}, fmt.Errorf("no forecast is made for its place: %w", weather.ErrNone)
	}
	hourly := fetch.Request{Path: "/gridpoints/" + cell + "/forecast/hourly", Types: types, Ceiling: forecastCeiling, Pace: pace}
	f, err := fetch.Get(ctx, s.client, hourly, readHourly)
	switch {
	case err != nil:
		return weather.Forecast{}, err
	case len(f.Hourly) == 0:
		return weather.Forecast{}, weather.ErrNone
	}
	f.Ident = ident // two stations may share a cell
	return f, nil
}

var types = []string{"application/geo+json", "application/ld+json", "application/json"}

// decimals writes at most four, and no trailing zeros.
func decimals(f float64) string {
	s := strings.TrimRight(strings.TrimRight(fmt.Sprintf("%.4f", f), "0"), ".")
	if s == "-0" {
		return "0"
	}
	return s
}
