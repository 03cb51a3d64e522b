package sqlstore

import (
	"context"
	"encoding/json"
	"fmt"

	"firn/bot/bases"
	"firn/bot/outbox"
)

// Bases are those that duty officers have added.
func (s *Store) Bases(ctx context.Context) ([]bases.Base, error) {
	all, err := list(ctx, s.reader, func(row scanner, b *bases.Base) error {
		var body string
		if err := row.Scan(&body); err != nil {
			return err
		}
		return json.Unmarshal([]byte(body), b)
	}, "SELECT body FROM added_base ORDER BY ident")
	return all, wrap(ctx, "bases", err)
}

// AddBase keeps a base and writes the posts that tell it, unless it is there.
func (s *Store) AddBase(ctx context.Context, b bases.Base, posts []outbox.Item) (fresh bool, err error) {
	body, err := json.Marshal(b)
	if err != nil {
		return false, fmt.Errorf("add base: %w", err)
	}
	return s.insertAndPost(ctx, "add base", b.Ident, posts,
		"INSERT INTO added_base (ident, body) VALUES ($1, $2) ON CONFLICT (ident) DO NOTHING", b.Ident, string(body))
}

// DropBase ends a base and writes the posts that tell it, if it is there.
func (s *Store) DropBase(ctx context.Context, ident string, posts []outbox.Item) (was bool, err error) {
	return s.insertAndPost(ctx, "drop base", ident, posts, "DELETE FROM added_base WHERE ident = $1", ident)
}
