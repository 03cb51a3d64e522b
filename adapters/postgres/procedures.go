package postgres

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
func (s *Store) Replace(ctx context.Context, dataset string, airports []string, fill func(add func(*approach.Approach) error) (approach.Edition, error)) (approach.Replaced, error) {
	done, err := s.replace(ctx, dataset, airports, fill)
	if err != nil {
		return approach.Replaced{}, fmt.Errorf("replace procedures: %w", because(ctx, err))
	}
	return done, nil
}

func (s *Store) replace(ctx context.Context, dataset string, airports []string, fill func(add func(*approach.Approach) error) (approach.Edition, error)) (done approach.Replaced, err error) {
	tx, err := s.db.BeginTx(ctx, nil)
	if err != nil {
		return done, err
	}
	defer tx.Rollback() // after a commit it does nothing
	// Two imports at once: the second sees what the first has left.
	if _, err := tx.ExecContext(ctx, "LOCK TABLE procedure IN SHARE ROW EXCLUSIVE MODE"); err != nil {
		return done, err
	}
	before, err := stored(ctx, tx, dataset, airports)
	if err != nil {
		return done, err
	}
	for _, ident := range scope(airports) {
		if _, err := exec(ctx, tx, "DELETE FROM procedure WHERE dataset = $1 AND ($2 = '' OR ident = $2)", dataset, ident); err != nil {
			return done, err
		}
	}
	edition, err := fill(func(a *approach.Approach) error {
		if len(airports) > 0 && !slices.Contains(airports, a.Ident) {
			return fmt.Errorf("%s is not among the airports that are meant", a.Ident)
		}
		body, err := json.Marshal(a)
		if err != nil {
			return err
		}
		_, err = exec(ctx, tx, `
			INSERT INTO procedure (dataset, ident, code, cycle, body) VALUES ($1, $2, $3, $4, $5)
			ON CONFLICT (dataset, ident, code) DO UPDATE SET cycle = excluded.cycle, body = excluded.body`,
			dataset, a.Ident, a.Code, a.Cycle, string(body))
		return err
	})
	if err != nil {
		return done, err
	}
	after, err := stored(ctx, tx, dataset, airports)
	if err != nil {
		return done, err
	}
	if err := edition.Follow(before.cycle, before.airports, after.airports); err != nil {
		return done, err
	}
	done = approach.Replaced{Before: before.approaches, After: after.approaches, Was: before.cycle}
	return done, tx.Commit()
}

// scope is what is meant, one query each; the empty one is the whole dataset.
func scope(airports []string) []string {
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

func stored(ctx context.Context, tx *sql.Tx, dataset string, airports []string) (h holding, err error) {
	for _, ident := range scope(airports) {
		var approaches, idents int
		var newest sql.NullString
		if err := tx.QueryRowContext(ctx, "SELECT count(*), count(DISTINCT ident), max(cycle) FROM procedure WHERE dataset = $1 AND ($2 = '' OR ident = $2)",
			dataset, ident).Scan(&approaches, &idents, &newest); err != nil {
			return h, err
		}
		h.approaches, h.airports, h.cycle = h.approaches+approaches, h.airports+idents, max(h.cycle, newest.String)
	}
	return h, nil
}

// Procedures are those of a station.
func (s *Store) Procedures(ctx context.Context, ident string) ([]approach.Approach, error) {
	all, err := s.procedures(ctx, ident)
	if err != nil {
		return nil, fmt.Errorf("procedures of %s: %w", ident, because(ctx, err))
	}
	return all, nil
}

func (s *Store) procedures(ctx context.Context, ident string) (all []approach.Approach, err error) {
	rows, err := s.db.QueryContext(ctx, `SELECT body FROM procedure WHERE ident = $1 ORDER BY code COLLATE "C", dataset COLLATE "C"`, ident)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	for rows.Next() {
		var a approach.Approach
		var body string
		if err := rows.Scan(&body); err != nil {
			return nil, err
		}
		if err := json.Unmarshal([]byte(body), &a); err != nil {
			return nil, err
		}
		all = append(all, a)
	}
	return all, rows.Err()
}
