package sqlstore

import (
	"context"
	"errors"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"

	"firn/bot/pagestate"
)

// notifyChannel is the name on which replicas tell each other what changed.
const notifyChannel = "firn"

// maxNotified is how many changes of one transaction are told one by one.
const maxNotified = 100

// notify tells a transaction's changes when, and only if, it is committed.
func notify(ctx context.Context, t *tx) error {
	changes := t.changes
	if len(changes) == 0 {
		return nil
	}
	if len(changes) > maxNotified {
		changes = []pagestate.Change{{Kind: pagestate.All}}
	}
	texts := make([]string, len(changes))
	for i, c := range changes {
		texts[i] = c.String()
	}
	_, err := exec(ctx, t, "SELECT pg_notify($1, told) FROM unnest($2::text[]) AS told", notifyChannel, texts)
	return err
}

// A connection that says nothing for a while may be none any more.
const (
	aliveEvery   = 15 * time.Second
	aliveTimeout = 5 * time.Second
)

// Follow tells what any process changes. It has a connection of its own.
func (s *Postgres) Follow(ctx context.Context, tell func(pagestate.Change)) error {
	if err := s.follow(ctx, tell); err != nil {
		return fmt.Errorf("follow changes: %w", redact(contextError(ctx, err), s.address.Password))
	}
	return nil
}

func (s *Postgres) follow(ctx context.Context, tell func(pagestate.Change)) error {
	address := s.address.Copy()
	address.RuntimeParams["application_name"] += " listens" // for whoever looks who is connected
	c, err := pgx.ConnectConfig(ctx, address)
	if err != nil {
		return err
	}
	defer func() {
		ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), time.Second)
		defer cancel()
		_ = c.Close(ctx) // it is lost, or nobody needs it any more
	}()
	if _, err := c.Exec(ctx, "LISTEN "+notifyChannel); err != nil {
		return err
	}
	tell(pagestate.Change{Kind: pagestate.All})
	for {
		n, err := waitNotified(ctx, c)
		switch {
		case err == nil:
			tell(pagestate.Parse(n))
		case ctx.Err() != nil:
			return ctx.Err()
		case errors.Is(err, context.DeadlineExceeded) && !c.IsClosed():
			if err := alive(ctx, c); err != nil {
				return err
			}
		default:
			return err
		}
	}
}

// waitNotified waits for what is told next.
func waitNotified(ctx context.Context, c *pgx.Conn) (string, error) {
	ctx, cancel := context.WithTimeout(ctx, aliveEvery)
	defer cancel()
	n, err := c.WaitForNotification(ctx)
	if err != nil {
		return "", err
	}
	return n.Payload, nil
}

func alive(ctx context.Context, c *pgx.Conn) error {
	ctx, cancel := context.WithTimeout(ctx, aliveTimeout)
	defer cancel()
	return c.Ping(ctx)
}
