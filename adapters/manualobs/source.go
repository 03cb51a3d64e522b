package manualobs

import (
	"context"
	"fmt"

	"firn/bot/weather"
)

// Source is an archive's typed observations as a weather.Source.
type Source struct{ archive weather.Archive }

var _ weather.Source = Source{}

// New makes a source of an archive.
func New(a weather.Archive) Source { return Source{a} }

// Name is that of the configuration.
func (s Source) Name() string { return "typed" }

// Observation is the latest typed one.
func (s Source) Observation(ctx context.Context, ident string) (weather.Observation, error) {
	if err := ctx.Err(); err != nil {
		return weather.Observation{}, err
	}
	up, ok := weather.Ident(ident)
	if !ok {
		return weather.Observation{}, fmt.Errorf("weather typed: %s: %w", ident, weather.ErrNone)
	}
	o, ok, err := s.archive.LatestObservation(ctx, up, weather.TypedSource)
	switch {
	case err != nil:
		return weather.Observation{}, fmt.Errorf("weather typed: %s: %w", up, err)
	case !ok:
		return weather.Observation{}, fmt.Errorf("weather typed: %s: %w", up, weather.ErrNone)
	}
	return o, nil
}

// Forecast is none, ever.
func (s Source) Forecast(ctx context.Context, ident string) (weather.Forecast, error) {
	if err := ctx.Err(); err != nil {
		return weather.Forecast{}, err
	}
	return weather.Forecast{}, fmt.Errorf("weather typed: %s: observations only: %w", ident, weather.ErrNone)
}
