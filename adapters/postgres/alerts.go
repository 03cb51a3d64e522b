package postgres

import (
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"time"

	"firn/bot/outbox"
	"firn/bot/pagestate"
	"firn/bot/watch"
	"firn/engine/coldwatch"
)

// Open writes an alert and its posts in one transaction. A post whose key and
// channel are there already is not written again.
func (s *Store) Open(ctx context.Context, a watch.Alert, posts []outbox.Item) (fresh bool, err error) {
	if fresh, err = s.open(ctx, a, posts); err != nil {
		return false, fmt.Errorf("open alert: %w", err)
	}
	return fresh, nil
}

func (s *Store) open(ctx context.Context, a watch.Alert, posts []outbox.Item) (fresh bool, err error) {
	tx, err := s.db.BeginTx(ctx, nil)
	if err != nil {
		return false, because(ctx, err)
	}
	defer tx.Rollback() // after a commit it does nothing
	j := a.Judgement
	n, err := exec(ctx, tx, `
		INSERT INTO alert (base, day, seq, kind, state, low_c, low_at, below_from, below_to,
			hours_known, covered, covered_from, covered_to, restriction_c, source, issued, note, made)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16, $17, $18)
		ON CONFLICT (base, day, seq) DO NOTHING`,
		a.Base, a.Day, a.Seq, string(a.Kind), j.State.String(), float64(j.Low), instant(j.LowAt), instant(j.BelowFrom), instant(j.BelowTo),
		j.HoursKnown, j.Covered, instant(j.CoveredFrom), instant(j.CoveredTo), float64(j.Restriction), j.Source, instant(j.Issued), j.Note, instant(a.Made))
	if err != nil || n == 0 {
		return false, err
	}
	if _, err := enqueue(ctx, tx, posts); err != nil {
		return false, err
	}
	if err := notify(ctx, tx, pagestate.Change{Kind: pagestate.Watch, ID: a.Base}); err != nil {
		return false, err
	}
	if err := tx.Commit(); err != nil {
		return false, because(ctx, err)
	}
	return true, nil
}

// enqueue writes posts; those that are there already stay as they are. fresh is
// how many were not.
func enqueue(ctx context.Context, tx runner, posts []outbox.Item) (fresh int, err error) {
	for _, p := range posts {
		body, err := json.Marshal(p.Body)
		if err != nil {
			return 0, err
		}
		line, seq := p.Line()
		n, err := exec(ctx, tx, `
			INSERT INTO outbox (key, channel, line, seq, body, made, due) VALUES ($1, $2, $3, $4, $5, $6, $7)
			ON CONFLICT (key, channel) DO NOTHING`,
			p.Key, p.Channel, line, seq, string(body), instant(p.Made), instant(p.Due))
		if err != nil {
			return 0, err
		}
		fresh += int(n)
	}
	return fresh, nil
}

// Day is all that is known of a base's day.
func (s *Store) Day(ctx context.Context, base, day string) (watch.Day, error) {
	d, err := s.day(ctx, base, day)
	if err != nil {
		return watch.Day{}, fmt.Errorf("day: %w", because(ctx, err))
	}
	return d, nil
}

func (s *Store) day(ctx context.Context, base, day string) (d watch.Day, err error) {
	tx, err := s.db.BeginTx(ctx, &sql.TxOptions{Isolation: sql.LevelRepeatableRead, ReadOnly: true}) // one moment for all three
	if err != nil {
		return d, err
	}
	defer tx.Rollback()
	rows, err := tx.QueryContext(ctx, `
		SELECT seq, kind, state, low_c, low_at, below_from, below_to,
			hours_known, covered, covered_from, covered_to, restriction_c, source, issued, note, made
		FROM alert WHERE base = $1 AND day = $2 ORDER BY seq`, base, day)
	if err != nil {
		return d, err
	}
	defer rows.Close()
	for rows.Next() {
		a := watch.Alert{Base: base, Day: day}
		j := &a.Judgement
		var state string
		if err := rows.Scan(&a.Seq, &a.Kind, &state, &j.Low, moment{&j.LowAt}, moment{&j.BelowFrom}, moment{&j.BelowTo},
			&j.HoursKnown, &j.Covered, moment{&j.CoveredFrom}, moment{&j.CoveredTo}, &j.Restriction, &j.Source, moment{&j.Issued}, &j.Note, moment{&a.Made}); err != nil {
			return d, err
		}
		var ok bool
		if j.State, ok = coldwatch.ParseState(state); !ok {
			return d, fmt.Errorf("alert %d has the state %q, which is not known", a.Seq, state)
		}
		d.Alerts = append(d.Alerts, a)
	}
	if err := rows.Err(); err != nil {
		return d, err
	}
	rows, err = tx.QueryContext(ctx, `
		SELECT seq, by, acknowledged FROM ack WHERE base = $1 AND day = $2 ORDER BY acknowledged, seq, by`, base, day)
	if err != nil {
		return d, err
	}
	defer rows.Close()
	for rows.Next() {
		a := watch.Ack{Base: base, Day: day}
		if err := rows.Scan(&a.Seq, &a.By, moment{&a.At}); err != nil {
			return d, err
		}
		d.Acks = append(d.Acks, a)
	}
	if err := rows.Err(); err != nil {
		return d, err
	}
	_, err = found(tx.QueryRowContext(ctx, "SELECT until FROM snooze WHERE base = $1 AND day = $2", base, day).Scan(moment{&d.SnoozedUntil}))
	return d, err
}

// Acknowledge writes an acknowledgement and the posts that tell it.
func (s *Store) Acknowledge(ctx context.Context, a watch.Ack, posts []outbox.Item) (fresh bool, err error) {
	if fresh, err = s.acknowledge(ctx, a, posts); err != nil {
		return false, fmt.Errorf("acknowledge: %w", err)
	}
	return fresh, nil
}

func (s *Store) acknowledge(ctx context.Context, a watch.Ack, posts []outbox.Item) (fresh bool, err error) {
	tx, err := s.db.BeginTx(ctx, nil)
	if err != nil {
		return false, because(ctx, err)
	}
	defer tx.Rollback() // after a commit it does nothing
	n, err := exec(ctx, tx, `
		INSERT INTO ack (base, day, seq, by, acknowledged) VALUES ($1, $2, $3, $4, $5)
		ON CONFLICT (base, day, seq, by) DO NOTHING`,
		a.Base, a.Day, a.Seq, a.By, instant(a.At))
	if err != nil || n == 0 {
		return false, err
	}
	if _, err := enqueue(ctx, tx, posts); err != nil {
		return false, err
	}
	if err := notify(ctx, tx, pagestate.Change{Kind: pagestate.Watch, ID: a.Base}); err != nil {
		return false, err
	}
	if err := tx.Commit(); err != nil {
		return false, because(ctx, err)
	}
	return true, nil
}

// Snooze sets how long a base's day is quiet; the last word holds.
func (s *Store) Snooze(ctx context.Context, base, day string, until time.Time, by string) error {
	return s.inTurn(ctx, "snooze", func(tx *sql.Tx) error {
		if _, err := exec(ctx, tx, `
			INSERT INTO snooze (base, day, until, by) VALUES ($1, $2, $3, $4)
			ON CONFLICT (base, day) DO UPDATE SET until = excluded.until, by = excluded.by`,
			base, day, instant(until), by); err != nil {
			return err
		}
		return notify(ctx, tx, pagestate.Change{Kind: pagestate.Watch, ID: base})
	})
}

// Born is when the store was made: when its schema was, or its first alert,
// which a store that was moved here has from before.
func (s *Store) Born(ctx context.Context) (at time.Time, err error) {
	err = s.db.QueryRowContext(ctx, `
		SELECT least((SELECT min(made) FROM alert), (SELECT min(tstamp)::timestamptz FROM schema_version))`).Scan(moment{&at})
	if err != nil {
		return time.Time{}, fmt.Errorf("when the store was made: %w", because(ctx, err))
	}
	return at, nil
}
