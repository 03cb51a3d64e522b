package sqlstore

import (
	"context"
	"time"
)

// Lease takes a name for a while, or longer.
func (s *Store) Lease(ctx context.Context, name, holder string, d time.Duration) (held bool, err error) {
	// The time is read again where the row was waited for.
	return s.one(ctx, "lease", `
		INSERT INTO lease (name, holder, until) VALUES ($1, $2, `+s.sql.later("$3")+`)
		ON CONFLICT (name) DO UPDATE SET holder = excluded.holder, until = `+s.sql.later("$3")+`
		WHERE lease.holder = excluded.holder OR lease.until <= `+s.sql.now,
		name, holder, d.Microseconds())
}

// Release gives a name back, if holder has it.
func (s *Store) Release(ctx context.Context, name, holder string) error {
	_, err := s.one(ctx, "release", "DELETE FROM lease WHERE name = $1 AND holder = $2", name, holder)
	return err
}

// Restored notes that the store was put back from a copy just now: for
// outbox.RestoredWindow every post is looked up before it is sent.
func (s *Store) Restored(ctx context.Context) error {
	_, err := s.one(ctx, "note the restore", "UPDATE instance SET restored = "+s.sql.now)
	return err
}
