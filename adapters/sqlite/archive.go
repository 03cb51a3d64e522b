package sqlite

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"slices"

	"firn/bot/weather"
	"firn/engine/coldwatch"
)

// found tells no row from an error.
func found(err error) (bool, error) {
	if errors.Is(err, sql.ErrNoRows) {
		return false, nil
	}
	return err == nil, err
}

// SaveObservation keeps an observation. It is the same again when all but
// the time received is.
func (s *Store) SaveObservation(ctx context.Context, o weather.Observation) (fresh bool, err error) {
	sum, err := digest([]any{o.Ident, o.Source, micros(o.At), o.C, []byte(o.Raw)})
	if err != nil {
		return false, fmt.Errorf("save observation: %w", err)
	}
	return s.one(ctx, "save observation", `
		INSERT INTO observation (ident, source, observed, c, raw, received, digest) VALUES (?, ?, ?, ?, ?, ?, ?)
		ON CONFLICT (digest) DO NOTHING`,
		o.Ident, o.Source, micros(o.At), float64(o.C), []byte(o.Raw), micros(o.Received), sum)
}

// LatestObservation is the latest by time observed, then received.
func (s *Store) LatestObservation(ctx context.Context, ident, source string) (weather.Observation, bool, error) {
	o := weather.Observation{Ident: ident}
	var raw []byte
	ok, err := found(s.read.QueryRowContext(ctx, `
		SELECT source, observed, c, raw, received FROM observation
		WHERE ident = ?1 AND (?2 = '' OR source = ?2)
		ORDER BY observed DESC, received DESC, id DESC LIMIT 1`, ident, source).
		Scan(&o.Source, moment{&o.At}, &o.C, &raw, moment{&o.Received}))
	if err != nil {
		return weather.Observation{}, false, fmt.Errorf("latest observation: %w", because(ctx, err))
	}
	if !ok {
		return weather.Observation{}, false, nil
	}
	o.Raw = string(raw)
	return o, true, nil
}

// samples are what they are kept as.
func samples(in []coldwatch.Sample) []coldwatch.Sample {
	out := slices.Clone(in)
	for i := range out {
		out[i].At = instant(out[i].At)
	}
	return out
}

// SaveForecast keeps a forecast. It is the same again when all but the time
// received is.
func (s *Store) SaveForecast(ctx context.Context, f weather.Forecast) (fresh bool, err error) {
	var curves [3]string
	for i, c := range [...][]coldwatch.Sample{f.Hourly, f.Minimums, f.Maximums} {
		b, err := json.Marshal(samples(c))
		if err != nil {
			return false, fmt.Errorf("save forecast: %w", err)
		}
		curves[i] = string(b)
	}
	sum, err := digest([]any{f.Ident, f.Source, micros(f.Issued), micros(f.ValidFrom), micros(f.ValidTo), curves, []byte(f.Raw)})
	if err != nil {
		return false, fmt.Errorf("save forecast: %w", err)
	}
	return s.one(ctx, "save forecast", `
		INSERT INTO forecast (ident, source, issued, valid_from, valid_to, hourly, minimums, maximums, raw, received, digest)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)
		ON CONFLICT (digest) DO NOTHING`,
		f.Ident, f.Source, micros(f.Issued), micros(f.ValidFrom), micros(f.ValidTo), curves[0], curves[1], curves[2],
		[]byte(f.Raw), micros(f.Received), sum)
}

// LatestForecast is the latest by time issued, then received.
func (s *Store) LatestForecast(ctx context.Context, ident, source string) (weather.Forecast, bool, error) {
	f := weather.Forecast{Ident: ident}
	var raw []byte
	ok, err := found(s.read.QueryRowContext(ctx, `
		SELECT source, issued, valid_from, valid_to, hourly, minimums, maximums, raw, received FROM forecast
		WHERE ident = ?1 AND (?2 = '' OR source = ?2)
		ORDER BY issued DESC, received DESC, id DESC LIMIT 1`, ident, source).
		Scan(&f.Source, moment{&f.Issued}, moment{&f.ValidFrom}, moment{&f.ValidTo},
			document{&f.Hourly}, document{&f.Minimums}, document{&f.Maximums}, &raw, moment{&f.Received}))
	if err != nil {
		return weather.Forecast{}, false, fmt.Errorf("latest forecast: %w", because(ctx, err))
	}
	if !ok {
		return weather.Forecast{}, false, nil
	}
	f.Raw = string(raw)
	return f, true, nil
}
