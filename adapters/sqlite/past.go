package sqlite

import (
	"context"
	"fmt"
	"time"

	"firn/bot/weather"
	"firn/engine/coldwatch"
)

var _ weather.Past = (*Store)(nil)

// Observed is what was observed at a station.
func (s *Store) Observed(ctx context.Context, ident string, from, to time.Time) ([]coldwatch.Sample, error) {
	all, err := s.observed(ctx, ident, from, to)
	if err != nil {
		return nil, fmt.Errorf("observations of %s: %w", ident, because(ctx, err))
	}
	return all, nil
}

func (s *Store) observed(ctx context.Context, ident string, from, to time.Time) (all []coldwatch.Sample, err error) {
	rows, err := s.read.QueryContext(ctx, "SELECT observed, c FROM observation WHERE ident = ? AND observed >= ? AND observed < ? ORDER BY observed, id", ident, micros(from), micros(to))
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	for rows.Next() {
		var o coldwatch.Sample
		if err := rows.Scan(moment{&o.At}, &o.C); err != nil {
			return nil, err
		}
		all = append(all, o)
	}
	return all, rows.Err()
}
