package postgres

import (
	"context"
	"fmt"

	"firn/bot/outbox"
)

// AddPosts writes posts that come of no alert.
func (s *Store) AddPosts(ctx context.Context, posts []outbox.Item) (fresh int, err error) {
	tx, err := s.db.BeginTx(ctx, nil)
	if err != nil {
		return 0, fmt.Errorf("add posts: %w", because(ctx, err))
	}
	defer tx.Rollback() // after a commit it does nothing
	if fresh, err = enqueue(ctx, tx, posts); err != nil {
		return 0, fmt.Errorf("add posts: %w", because(ctx, err))
	}
	if err := tx.Commit(); err != nil {
		return 0, fmt.Errorf("add posts: %w", because(ctx, err))
	}
	return fresh, nil
}
