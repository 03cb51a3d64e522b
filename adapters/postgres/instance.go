package postgres

import (
	"context"
	"fmt"
)

// identity is which copy of the store this is. The oid of a table is another
// one after pg_restore, the cluster's identifier after a move to another
// server, the timeline after a recovery to a point in time or the promotion
// of a standby, which may lack the last commits.
const identity = `
	SELECT concat_ws('/',
		(SELECT system_identifier FROM pg_control_system()),
		(SELECT timeline_id FROM pg_control_checkpoint()),
		(SELECT oid FROM pg_database WHERE datname = current_database()),
		'outbox'::regclass::oid::bigint)`

// recognise notes a restore when the store is another one than was last
// opened. Of replicas that start together one sees it.
func (s *Store) recognise(ctx context.Context) error {
	var now string
	if err := s.db.QueryRowContext(ctx, identity).Scan(&now); err != nil {
		return fmt.Errorf("identity: %w", err)
	}
	_, err := s.db.ExecContext(ctx, `
		UPDATE instance SET mark = $1, restored = CASE WHEN mark = '' THEN restored ELSE clock_timestamp() END
		WHERE mark <> $1`, now)
	if err != nil {
		return fmt.Errorf("note the restore: %w", err)
	}
	return nil
}

// Restored notes that the store was put back from a copy just now: for
// outbox.RestoredWindow every post is looked up before it is sent.
func (s *Store) Restored(ctx context.Context) error {
	if _, err := s.one(ctx, "note the restore", "UPDATE instance SET restored = clock_timestamp()"); err != nil {
		return err
	}
	return nil
}
