package sqlite

import (
	"context"
	"database/sql"
	"fmt"
	"time"
)

// Lease takes a name for a while.
func (s *Store) Lease(ctx context.Context, name, holder string, d time.Duration) (held bool, err error) {
	var n int64
	err = s.together(ctx, func(ctx context.Context, tx *sql.Tx) (err error) {
		clock := s.now() // read when it has its turn
		n, err = exec(ctx, tx, `
		INSERT INTO lease (name, holder, until) VALUES (?1, ?2, ?3)
		ON CONFLICT (name) DO UPDATE SET holder = excluded.holder, until = excluded.until
		WHERE lease.holder = excluded.holder OR lease.until <= ?4`,
			name, holder, micros(clock.Add(d)), micros(clock))
		return err
	})
	if err != nil {
		return false, fmt.Errorf("lease: %w", err)
	}
	return n > 0, nil
}

// Release gives a name back, if holder has it.
func (s *Store) Release(ctx context.Context, name, holder string) error {
	_, err := s.one(ctx, "release", "DELETE FROM lease WHERE name = ? AND holder = ?", name, holder)
	return err
}
