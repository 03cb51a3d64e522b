package sqlstore

import (
	"context"
	"encoding/json"
	"slices"
	"time"

	"firn/bot/weather"
	"firn/engine/coldwatch"
)

var _ weather.Past = (*Store)(nil)

// SaveObservation keeps an observation. It is the same again when all but
// the time received is.
func (s *Store) SaveObservation(ctx context.Context, o weather.Observation) (fresh bool, err error) {
	sum, err := digest([]any{o.Ident, o.Source, s.sql.digested(o.At), o.C, []byte(o.Raw)})
	if err != nil {
		return false, wrap(ctx, "save observation", err)
	}
	return s.one(ctx, "save observation", `
		INSERT INTO observation (ident, source, observed, c, raw, received, digest) VALUES ($1, $2, $3, $4, $5, $6, $7)
		ON CONFLICT (digest) DO NOTHING`,
		o.Ident, o.Source, o.At, float64(o.C), []byte(o.Raw), o.Received, sum)
}

// LatestObservation is the latest by time observed, then received.
func (s *Store) LatestObservation(ctx context.Context, ident, source string) (weather.Observation, bool, error) {
	o := weather.Observation{Ident: ident}
	var raw []byte
	there, err := found(s.reader.QueryRowContext(ctx, `
		SELECT source, observed, c, raw, received FROM observation
		WHERE ident = $1 AND ($2 = '' OR source = $2)
		ORDER BY observed DESC, received DESC, id DESC LIMIT 1`, ident, source).
		Scan(&o.Source, scanTime{&o.At}, &o.C, &raw, scanTime{&o.Received}))
	if err != nil || !there {
		return weather.Observation{}, false, wrap(ctx, "latest observation", err)
	}
	o.Raw = string(raw)
	return o, true, nil
}

// Observed is what was observed at a station.
func (s *Store) Observed(ctx context.Context, ident string, from, to time.Time) ([]coldwatch.Sample, error) {
	all, err := list(ctx, s.reader, func(row scanner, o *coldwatch.Sample) error {
		return row.Scan(scanTime{&o.At}, &o.C)
	}, "SELECT observed, c FROM observation WHERE ident = $1 AND observed >= $2 AND observed < $3 ORDER BY observed, id", ident, from, to)
	return all, wrap(ctx, "observations of "+ident, err)
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
			return false, wrap(ctx, "save forecast", err)
		}
		curves[i] = string(b)
	}
	at := s.sql.digested
	sum, err := digest([]any{f.Ident, f.Source, at(f.Issued), at(f.ValidFrom), at(f.ValidTo), curves, []byte(f.Raw)})
	if err != nil {
		return false, wrap(ctx, "save forecast", err)
	}
	return s.one(ctx, "save forecast", `
		INSERT INTO forecast (ident, source, issued, valid_from, valid_to, hourly, minimums, maximums, raw, received, digest)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11)
		ON CONFLICT (digest) DO NOTHING`,
		f.Ident, f.Source, f.Issued, f.ValidFrom, f.ValidTo, curves[0], curves[1], curves[2], []byte(f.Raw), f.Received, sum)
}

// LatestForecast is the latest by time issued, then received.
func (s *Store) LatestForecast(ctx context.Context, ident, source string) (weather.Forecast, bool, error) {
	f := weather.Forecast{Ident: ident}
	var raw []byte
	there, err := found(s.reader.QueryRowContext(ctx, `
		SELECT source, issued, valid_from, valid_to, hourly, minimums, maximums, raw, received FROM forecast
		WHERE ident = $1 AND ($2 = '' OR source = $2)
		ORDER BY issued DESC, received DESC, id DESC LIMIT 1`, ident, source).
		Scan(&f.Source, scanTime{&f.Issued}, scanTime{&f.ValidFrom}, scanTime{&f.ValidTo},
			scanJSON{&f.Hourly}, scanJSON{&f.Minimums}, scanJSON{&f.Maximums}, &raw, scanTime{&f.Received}))
	if err != nil || !there {
		return weather.Forecast{}, false, wrap(ctx, "latest forecast", err)
	}
	f.Raw = string(raw)
	return f, true, nil
}
