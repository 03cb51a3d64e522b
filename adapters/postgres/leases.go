package postgres

import (
	"context"
	"fmt"
	"time"
)

// Lease takes a name for a while.
func (s *Store) Lease(ctx context.Context, name, holder string, d time.Duration) (held bool, err error) {
	return s.one(ctx, "lease", `
		INSERT INTO lease (name, holder, until)
		VALUES ($1, $2, clock_timestamp() + $3::bigint * interval '1 microsecond')
		ON CONFLICT (name) DO UPDATE
		SET holder = excluded.holder, until = clock_timestamp() + $3::bigint * interval '1 microsecond'
		WHERE lease.holder = excluded.holder OR lease.until <= clock_timestamp()`,
		name, holder, d.Microseconds())
}

// Release gives a name back, if holder has it.
func (s *Store) Release(ctx context.Context, name, holder string) error {
	_, err := s.one(ctx, "release", "DELETE FROM lease WHERE name = $1 AND holder = $2", name, holder)
	return err
}

// Now is the database's time, by which leases run.
func (s *Store) Now(ctx context.Context) (t time.Time, err error) {
	if err := s.db.QueryRowContext(ctx, "SELECT clock_timestamp()").Scan(&t); err != nil {
		return time.Time{}, fmt.Errorf("clock: %w", err)
	}
	return t.UTC(), nil
}
