package sqlstore

import (
	"cmp"
	"context"
	"encoding/json"
	"slices"
	"time"

	"firn/bot/outbox"
)

// AddPosts writes posts that come of no alert.
func (s *Store) AddPosts(ctx context.Context, posts []outbox.Item) (fresh int, err error) {
	err = s.write(ctx, "add posts", func(ctx context.Context, t *tx) (err error) {
		fresh, err = enqueue(ctx, t, posts)
		return err
	})
	if err != nil {
		return 0, err
	}
	return fresh, nil
}

// AddNext writes posts that follow each other, unless another did.
func (s *Store) AddNext(ctx context.Context, posts []outbox.Item) (fresh int, err error) {
	err = s.write(ctx, "add next posts", func(ctx context.Context, t *tx) (err error) {
		// Whoever writes the same number at once is waited for here.
		if fresh, err = enqueue(ctx, t, posts[:min(1, len(posts))]); err != nil || fresh == 0 {
			return err
		}
		rest, err := enqueue(ctx, t, posts[1:])
		fresh += rest
		return err
	})
	if err != nil {
		return 0, err
	}
	return fresh, nil
}

// enqueue writes posts; those that are there already stay as they are. fresh is
// how many were not.
func enqueue(ctx context.Context, on conn, posts []outbox.Item) (fresh int, err error) {
	for _, p := range posts {
		body, err := json.Marshal(p.Body)
		if err != nil {
			return 0, err
		}
		line, seq := p.OrderingKey()
		n, err := exec(ctx, on, `
			INSERT INTO outbox (key, channel, line, seq, body, made, due) VALUES ($1, $2, $3, $4, $5, $6, $7)
			ON CONFLICT (key, channel) DO NOTHING`,
			p.Key, p.Channel, line, seq, string(body), p.Made, p.Due)
		if err != nil {
			return 0, err
		}
		fresh += int(n)
	}
	return fresh, nil
}

// Standing gives the posts that were sent whose key begins with a text.
func (s *Store) Standing(ctx context.Context, prefix string, since time.Time) ([]outbox.Shown, error) {
	all, err := list(ctx, s.reader, func(row scanner, p *outbox.Shown) error {
		return row.Scan(&p.Key, &p.Channel, scanJSON{&p.Body}, scanTime{&p.Made}, scanTime{&p.Due}, &p.Ref)
	}, `
		SELECT key, channel, body, made, due, ref FROM outbox
		WHERE state = 'sent' AND substr(key, 1, length($1)) = $1 AND made >= $2`, prefix, since)
	return all, wrap(ctx, "posts that stand", err)
}

// Posts gives those whose key begins with a text, sent or not.
func (s *Store) Posts(ctx context.Context, prefix string, since time.Time) ([]outbox.Shown, error) {
	all, err := list(ctx, s.reader, func(row scanner, p *outbox.Shown) error {
		return row.Scan(&p.Key, &p.Channel, scanJSON{&p.Body}, scanTime{&p.Made}, scanTime{&p.Due}, &p.Ref)
	}, `
		SELECT key, channel, body, made, due, coalesce(ref, '') FROM outbox
		WHERE substr(key, 1, length($1)) = $1 AND made >= $2`, prefix, since)
	return all, wrap(ctx, "posts", err)
}

// claimed is a claim with what orders it.
type claimed struct {
	id int64
	outbox.Claim
}

// Claim leases items that are due. Those that another process has locked are
// passed over. They are picked apart from the update (MATERIALIZED): within it
// PostgreSQL might run the picking more than once, and the limit would not hold.
func (s *Store) Claim(ctx context.Context, now time.Time, lease time.Duration, limit int) ([]outbox.Claim, error) {
	query := `
		WITH picked AS MATERIALIZED (
			SELECT id FROM outbox AS o
			WHERE state = 'waiting' AND due <= $1
				AND (again IS NULL OR again <= $1) AND (until IS NULL OR until <= ` + s.sql.now + `)
				AND NOT EXISTS (
					SELECT 1 FROM outbox AS before
					WHERE before.state = 'waiting' AND before.channel = o.channel AND before.line = o.line AND before.seq < o.seq)
			ORDER BY due, id LIMIT $2` + s.sql.skipLocked + `)
		UPDATE outbox SET attempt = attempt + 1, until = ` + s.sql.later("$3") + `
		WHERE id IN (SELECT id FROM picked)
		RETURNING id, key, channel, body, made, due, attempt,
			coalesce(made < (SELECT restored FROM instance) + ` + s.sql.interval("$4") + `, false)`
	var all []claimed
	err := s.dialect.single(ctx, func(ctx context.Context, on conn) (err error) {
		all, err = list(ctx, on, func(row scanner, c *claimed) error {
			return row.Scan(&c.id, &c.Key, &c.Channel, scanJSON{&c.Body}, scanTime{&c.Made}, scanTime{&c.Due}, &c.Attempt, &c.MaybeSent)
		}, query, now, max(limit, 0), lease.Microseconds(), outbox.RestoredWindow.Microseconds())
		return err
	})
	if err != nil {
		return nil, wrap(ctx, "claim", err)
	}
	// RETURNING keeps no order.
	slices.SortFunc(all, func(a, b claimed) int { return cmp.Or(a.Due.Compare(b.Due), cmp.Compare(a.id, b.id)) })
	claims := make([]outbox.Claim, len(all))
	for i, c := range all {
		claims[i] = c.Claim
	}
	return claims, nil
}

// Taken is what waits under a lease.
func (s *Store) Taken(ctx context.Context) (n int, longest time.Duration, err error) {
	var until, now time.Time
	err = s.reader.QueryRowContext(ctx, "SELECT count(*), max(until), "+s.sql.now+" FROM outbox WHERE state = 'waiting' AND until > "+s.sql.now).
		Scan(&n, scanTime{&until}, scanTime{&now})
	if err != nil || n == 0 {
		return 0, 0, wrap(ctx, "what is claimed", err)
	}
	return n, until.Sub(now), nil
}

// GivenUp are the latest posts that were given up.
func (s *Store) GivenUp(ctx context.Context, since time.Time, most int) (latest []outbox.Undelivered, n int, err error) {
	latest, err = list(ctx, s.reader, func(row scanner, l *outbox.Undelivered) error {
		return row.Scan(&l.Key, &l.Channel, &l.Reason, scanTime{&l.At}, &n)
	}, `
		SELECT key, channel, coalesce(reason, ''), ended, count(*) OVER () FROM outbox
		WHERE state = 'given-up' AND ended >= $1 ORDER BY ended DESC, id DESC LIMIT $2`, since, most)
	return latest, n, wrap(ctx, "what was given up", err)
}

// whereHeld is the claim that nobody else has taken, ended or given back since.
// A lease that ended unseen does not matter.
const whereHeld = " WHERE key = $1 AND channel = $2 AND attempt = $3 AND state = 'waiting' AND until IS NOT NULL"

// Done marks a claim sent.
func (s *Store) Done(ctx context.Context, c outbox.Claim, ref string, at time.Time) (bool, error) {
	return s.one(ctx, "done", "UPDATE outbox SET state = 'sent', until = NULL, ref = $4, ended = $5"+whereHeld,
		c.Key, c.Channel, c.Attempt, ref, at)
}

// Later gives a claim back.
func (s *Store) Later(ctx context.Context, c outbox.Claim, due time.Time, reason string) (bool, error) {
	return s.one(ctx, "later", "UPDATE outbox SET until = NULL, again = $4, reason = $5"+whereHeld,
		c.Key, c.Channel, c.Attempt, due, reason)
}

// GiveUp ends a claim without success.
func (s *Store) GiveUp(ctx context.Context, c outbox.Claim, reason string, at time.Time) (bool, error) {
	return s.one(ctx, "give up", "UPDATE outbox SET state = 'given-up', until = NULL, reason = $4, ended = $5"+whereHeld,
		c.Key, c.Channel, c.Attempt, reason, at)
}

// Backlog is what waits: all that is neither sent nor given up, under a
// lease or not, due or not.
func (s *Store) Backlog(ctx context.Context) (b outbox.Backlog, err error) {
	err = s.reader.QueryRowContext(ctx, `
		SELECT (SELECT count(*) FROM outbox WHERE state = 'waiting'),
			(SELECT min(due) FROM outbox WHERE state = 'waiting'),
			(SELECT count(*) FROM outbox WHERE state = 'given-up')`).Scan(&b.Waiting, scanTime{&b.Oldest}, &b.GivenUp)
	if err != nil {
		return outbox.Backlog{}, wrap(ctx, "backlog", err)
	}
	return b, nil
}
