package sqlite

import (
	"cmp"
	"context"
	"database/sql"
	"fmt"
	"slices"
	"time"

	"firn/bot/outbox"
)

// Claim leases items that are due.
func (s *Store) Claim(ctx context.Context, now time.Time, lease time.Duration, limit int) ([]outbox.Claim, error) {
	claims, err := s.claim(ctx, now, lease, limit)
	if err != nil {
		return nil, fmt.Errorf("claim: %w", because(ctx, err))
	}
	return claims, nil
}

func (s *Store) claim(ctx context.Context, now time.Time, lease time.Duration, limit int) ([]outbox.Claim, error) {
	type row struct {
		id int64
		outbox.Claim
	}
	var all []row
	err := s.together(ctx, func(ctx context.Context, tx *sql.Tx) error {
		clock := s.now() // read when it has its turn
		restored, err := restoredAt(ctx, tx)
		if err != nil {
			return err
		}
		rows, err := tx.QueryContext(ctx, `
		UPDATE outbox SET attempt = attempt + 1, until = ?1
		WHERE id IN (
			SELECT id FROM outbox AS o
			WHERE state = 'waiting' AND due <= ?2 AND coalesce(again <= ?2, 1) AND coalesce(until <= ?3, 1)
				AND NOT EXISTS (
					SELECT 1 FROM outbox AS before
					WHERE before.state = 'waiting' AND before.channel = o.channel AND before.line = o.line AND before.seq < o.seq)
			ORDER BY due, id LIMIT ?4)
		RETURNING id, key, channel, body, made, due, attempt`,
			micros(clock.Add(lease)), micros(now), micros(clock), max(limit, 0))
		if err != nil {
			return err
		}
		defer rows.Close()
		for rows.Next() {
			var r row
			if err := rows.Scan(&r.id, &r.Key, &r.Channel, document{&r.Body}, moment{&r.Made}, moment{&r.Due}, &r.Attempt); err != nil {
				return err
			}
			r.MaybeSent = maybeSent(r.Claim, restored)
			all = append(all, r)
		}
		return cmp.Or(rows.Err(), rows.Close())
	})
	if err != nil {
		return nil, err
	}
	// RETURNING keeps no order.
	slices.SortFunc(all, func(a, b row) int { return cmp.Or(a.Due.Compare(b.Due), cmp.Compare(a.id, b.id)) })
	claims := make([]outbox.Claim, 0, len(all))
	for _, r := range all {
		claims = append(claims, r.Claim)
	}
	return claims, nil
}

// held is the claim that nobody else has taken, ended or given back since. A
// lease that ended unseen does not matter.
const held = " WHERE key = ? AND channel = ? AND attempt = ? AND state = 'waiting' AND until IS NOT NULL"

// Done marks a claim sent.
func (s *Store) Done(ctx context.Context, c outbox.Claim, ref string, at time.Time) (bool, error) {
	return s.one(ctx, "done", "UPDATE outbox SET state = 'sent', until = NULL, ref = ?, ended = ?"+held,
		ref, micros(at), c.Key, c.Channel, c.Attempt)
}

// Later gives a claim back.
func (s *Store) Later(ctx context.Context, c outbox.Claim, due time.Time, reason string) (bool, error) {
	return s.one(ctx, "later", "UPDATE outbox SET until = NULL, again = ?, reason = ?"+held,
		micros(due), reason, c.Key, c.Channel, c.Attempt)
}

// GiveUp ends a claim without success.
func (s *Store) GiveUp(ctx context.Context, c outbox.Claim, reason string, at time.Time) (bool, error) {
	return s.one(ctx, "give up", "UPDATE outbox SET state = 'given-up', until = NULL, reason = ?, ended = ?"+held,
		reason, micros(at), c.Key, c.Channel, c.Attempt)
}

// Backlog is what waits: all that is neither sent nor given up, under a
// lease or not, due or not.
func (s *Store) Backlog(ctx context.Context) (outbox.Backlog, error) {
	var b outbox.Backlog
	var oldest *int64
	err := s.read.QueryRowContext(ctx, `
		SELECT (SELECT count(*) FROM outbox WHERE state = 'waiting'),
			(SELECT min(due) FROM outbox WHERE state = 'waiting'),
			(SELECT count(*) FROM outbox WHERE state = 'given-up')`).Scan(&b.Waiting, &oldest, &b.GivenUp)
	if err != nil {
		return outbox.Backlog{}, fmt.Errorf("backlog: %w", because(ctx, err))
	}
	if oldest != nil {
		b.Oldest = time.UnixMicro(*oldest).UTC()
	}
	return b, nil
}
