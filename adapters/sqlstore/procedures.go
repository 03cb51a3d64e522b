package sqlstore

import (
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"slices"

	"firn/bot/approach"
)

var _ approach.Store = (*Store)(nil)

// Replace puts a coded file in the place of an earlier one.
func (s *Store) Replace(ctx context.Context, dataset string, airports []string, fill func(add func(*approach.Approach) error) (approach.Edition, error)) (done approach.Replaced, err error) {
	var before holding
	var edition approach.Edition
	err = s.dialect.replaceProcedures(ctx, func(ctx context.Context, on conn) (err error) {
		if before, err = stored(ctx, on, dataset, airports); err != nil {
			return err
		}
		for _, ident := range scopes(airports) {
			if _, err := exec(ctx, on, "DELETE FROM procedure WHERE dataset = $1 AND ($2 = '' OR ident = $2)", dataset, ident); err != nil {
				return err
			}
		}
		return nil
	}, func(on conn, table string) (err error) {
		edition, err = fill(func(a *approach.Approach) error {
			if len(airports) > 0 && !slices.Contains(airports, a.Ident) {
				return fmt.Errorf("%s is not among the airports that are meant", a.Ident)
			}
			body, err := json.Marshal(a)
			if err != nil {
				return err
			}
			_, err = exec(ctx, on, "INSERT INTO "+table+` (dataset, ident, code, cycle, body) VALUES ($1, $2, $3, $4, $5)
				ON CONFLICT (dataset, ident, code) DO UPDATE SET cycle = excluded.cycle, body = excluded.body`,
				dataset, a.Ident, a.Code, a.Cycle, string(body))
			return err
		})
		return err
	}, func(ctx context.Context, on conn) error {
		after, err := stored(ctx, on, dataset, airports)
		if err != nil {
			return err
		}
		done = approach.Replaced{Before: before.approaches, After: after.approaches, Was: before.cycle}
		return edition.Follow(before.cycle, before.airports, after.airports)
	})
	if err != nil {
		return approach.Replaced{}, wrap(ctx, "replace procedures", err)
	}
	return done, nil
}

// scopes are what is meant, one query each; the empty one is the whole dataset.
func scopes(airports []string) []string {
	if len(airports) == 0 {
		return []string{""}
	}
	return airports
}

// holding is what is stored of a dataset.
type holding struct {
	approaches, airports int
	cycle                string // the newest; empty for none
}

func stored(ctx context.Context, on conn, dataset string, airports []string) (h holding, err error) {
	for _, ident := range scopes(airports) {
		var approaches, idents int
		var newest sql.NullString
		if err := on.QueryRowContext(ctx, "SELECT count(*), count(DISTINCT ident), max(cycle) FROM procedure WHERE dataset = $1 AND ($2 = '' OR ident = $2)",
			dataset, ident).Scan(&approaches, &idents, &newest); err != nil {
			return h, err
		}
		h.approaches, h.airports, h.cycle = h.approaches+approaches, h.airports+idents, max(h.cycle, newest.String)
	}
	return h, nil
}

// Procedures are those of a station.
func (s *Store) Procedures(ctx context.Context, ident string) ([]approach.Approach, error) {
	all, err := list(ctx, s.reader, func(row scanner, a *approach.Approach) error { return row.Scan(scanJSON{a}) },
		"SELECT body FROM procedure WHERE ident = $1 ORDER BY code, dataset", ident)
	return all, wrap(ctx, "procedures of "+ident, err)
}

// Size is how many bytes the store takes on disk, what was freed and not given
// back included.
func (s *Store) Size(ctx context.Context) (bytes int64, err error) {
	err = s.reader.QueryRowContext(ctx, s.sql.size).Scan(&bytes)
	return bytes, wrap(ctx, "size", err)
}
