package sqlite

import (
	"context"
	"fmt"
	"time"

	"firn/bot/outbox"
)

// AddPosts writes posts that come of no alert.
func (s *Store) AddPosts(ctx context.Context, posts []outbox.Item) (fresh int, err error) {
	tx, err := s.write.BeginTx(ctx, nil)
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

// Standing gives the posts that were sent whose key begins with a text.
func (s *Store) Standing(ctx context.Context, prefix string, since time.Time) (all []outbox.Shown, err error) {
	rows, err := s.read.QueryContext(ctx, "SELECT key, channel, body, made, due, ref FROM outbox WHERE state = 'sent' AND substr(key, 1, length(?1)) = ?1 AND made >= ?2", prefix, micros(since))
	if err != nil {
		return nil, fmt.Errorf("posts that stand: %w", because(ctx, err))
	}
	defer rows.Close()
	for rows.Next() {
		var p outbox.Shown
		if err := rows.Scan(&p.Key, &p.Channel, document{&p.Body}, moment{&p.Made}, moment{&p.Due}, &p.Ref); err != nil {
			return nil, fmt.Errorf("posts that stand: %w", because(ctx, err))
		}
		all = append(all, p)
	}
	if err := rows.Err(); err != nil {
		return nil, fmt.Errorf("posts that stand: %w", because(ctx, err))
	}
	return all, nil
}
