package postgres

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
	// A row that another process has locked is passed over. The rows are
	// picked apart from the update (MATERIALIZED): within it the planner might
	// run the picking more than once, and the limit would not hold.
	rows, err := s.db.QueryContext(ctx, `
		WITH picked AS MATERIALIZED (
			SELECT id FROM outbox AS o
			WHERE state = 'waiting' AND due <= $1
				AND (again IS NULL OR again <= $1) AND (until IS NULL OR until <= clock_timestamp())
				AND NOT EXISTS (
					SELECT FROM outbox AS before
					WHERE before.state = 'waiting' AND before.channel = o.channel AND before.line = o.line AND before.seq < o.seq)
			ORDER BY due, id LIMIT $2
			FOR UPDATE OF o SKIP LOCKED)
		UPDATE outbox SET attempt = attempt + 1, until = clock_timestamp() + $3::bigint * interval '1 microsecond'
		FROM picked, instance WHERE outbox.id = picked.id
		RETURNING outbox.id, key, channel, body, made, due, attempt,
			instance.restored IS NOT NULL AND made < instance.restored + $4::bigint * interval '1 microsecond'`,
		instant(now), max(limit, 0), lease.Microseconds(), outbox.RestoredWindow.Microseconds())
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	for rows.Next() {
		var r row
		if err := rows.Scan(&r.id, &r.Key, &r.Channel, document{&r.Body}, moment{&r.Made}, moment{&r.Due}, &r.Attempt, &r.MaybeSent); err != nil {
			return nil, err
		}
		all = append(all, r)
	}
	if err := rows.Err(); err != nil {
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
const held = " WHERE key = $1 AND channel = $2 AND attempt = $3 AND state = 'waiting' AND until IS NOT NULL"

// Done marks a claim sent.
func (s *Store) Done(ctx context.Context, c outbox.Claim, ref string, at time.Time) (bool, error) {
	return s.one(ctx, "done", "UPDATE outbox SET state = 'sent', until = NULL, ref = $4, ended = $5"+held,
		c.Key, c.Channel, c.Attempt, ref, instant(at))
}

// Later gives a claim back.
func (s *Store) Later(ctx context.Context, c outbox.Claim, due time.Time, reason string) (bool, error) {
	return s.one(ctx, "later", "UPDATE outbox SET until = NULL, again = $4, reason = $5"+held,
		c.Key, c.Channel, c.Attempt, instant(due), reason)
}

// GiveUp ends a claim without success.
func (s *Store) GiveUp(ctx context.Context, c outbox.Claim, reason string, at time.Time) (bool, error) {
	return s.one(ctx, "give up", "UPDATE outbox SET state = 'given-up', until = NULL, reason = $4, ended = $5"+held,
		c.Key, c.Channel, c.Attempt, reason, instant(at))
}

// Backlog is what waits: all that is neither sent nor given up, under a
// lease or not, due or not.
func (s *Store) Backlog(ctx context.Context) (outbox.Backlog, error) {
	var b outbox.Backlog
	var oldest sql.Null[time.Time]
	err := s.db.QueryRowContext(ctx, `
		SELECT (SELECT count(*) FROM outbox WHERE state = 'waiting'),
			(SELECT min(due) FROM outbox WHERE state = 'waiting'),
			(SELECT count(*) FROM outbox WHERE state = 'given-up')`).Scan(&b.Waiting, &oldest, &b.GivenUp)
	if err != nil {
		return outbox.Backlog{}, fmt.Errorf("backlog: %w", because(ctx, err))
	}
	if oldest.Valid {
		b.Oldest = oldest.V.UTC()
	}
	return b, nil
}
