package sqlite

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
	j := a.Judgement
	err = s.together(ctx, func(ctx context.Context, tx *sql.Tx) error {
		n, err := exec(ctx, tx, `
		INSERT INTO alert (base, day, seq, kind, state, low_c, low_at, below_from, below_to,
			hours_known, covered, covered_from, covered_to, restriction_c, source, issued, note, made)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)
		ON CONFLICT (base, day, seq) DO NOTHING`,
			a.Base, a.Day, a.Seq, string(a.Kind), j.State.String(), float64(j.Low), micros(j.LowAt), micros(j.BelowFrom), micros(j.BelowTo),
			j.HoursKnown, j.Covered, micros(j.CoveredFrom), micros(j.CoveredTo), float64(j.Restriction), j.Source, micros(j.Issued), j.Note, micros(a.Made))
		if err != nil || n == 0 {
			return err
		}
		fresh = true
		_, err = enqueue(ctx, tx, posts)
		return err
	})
	if err != nil || !fresh {
		return false, err
	}
	s.tellers.Tell(pagestate.Change{Kind: pagestate.Watch, ID: a.Base})
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
			INSERT INTO outbox (key, channel, line, seq, body, made, due) VALUES (?, ?, ?, ?, ?, ?, ?)
			ON CONFLICT (key, channel) DO NOTHING`,
			p.Key, p.Channel, line, seq, string(body), micros(p.Made), micros(p.Due))
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
	tx, err := s.read.BeginTx(ctx, nil) // one moment for all three
	if err != nil {
		return d, err
	}
	defer tx.Rollback()
	rows, err := tx.QueryContext(ctx, `
		SELECT seq, kind, state, low_c, low_at, below_from, below_to,
			hours_known, covered, covered_from, covered_to, restriction_c, source, issued, note, made
		FROM alert WHERE base = ? AND day = ? ORDER BY seq`, base, day)
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
		SELECT seq, by, acknowledged FROM ack WHERE base = ? AND day = ? ORDER BY acknowledged, seq, by`, base, day)
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
	_, err = found(tx.QueryRowContext(ctx, "SELECT until FROM snooze WHERE base = ? AND day = ?", base, day).Scan(moment{&d.SnoozedUntil}))
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
	err = s.together(ctx, func(ctx context.Context, tx *sql.Tx) error {
		n, err := exec(ctx, tx, `
		INSERT INTO ack (base, day, seq, by, acknowledged) VALUES (?, ?, ?, ?, ?)
		ON CONFLICT (base, day, seq, by) DO NOTHING`,
			a.Base, a.Day, a.Seq, a.By, micros(a.At))
		if err != nil || n == 0 {
			return err
		}
		fresh = true
		_, err = enqueue(ctx, tx, posts)
		return err
	})
	if err != nil || !fresh {
		return false, err
	}
	s.tellers.Tell(pagestate.Change{Kind: pagestate.Watch, ID: a.Base})
	return true, nil
}

// Snooze sets how long a base's day is quiet; the last word holds.
func (s *Store) Snooze(ctx context.Context, base, day string, until time.Time, by string) error {
	_, err := s.one(ctx, "snooze", `
		INSERT INTO snooze (base, day, until, by) VALUES (?, ?, ?, ?)
		ON CONFLICT (base, day) DO UPDATE SET until = excluded.until, by = excluded.by`,
		base, day, micros(until), by)
	if err == nil {
		s.tellers.Tell(pagestate.Change{Kind: pagestate.Watch, ID: base})
	}
	return err
}

// Born is when the store was made: when its schema was, or its first alert,
// which a store that was moved here has from before.
func (s *Store) Born(ctx context.Context) (at time.Time, err error) {
	err = s.read.QueryRowContext(ctx, `
		SELECT min(coalesce((SELECT min(made) FROM alert), 9223372036854775807), (SELECT CAST(strftime('%s', min(tstamp)) AS INTEGER) * 1000000 FROM schema_version))`).Scan(moment{&at})
	if err != nil {
		return time.Time{}, fmt.Errorf("when the store was made: %w", because(ctx, err))
	}
	return at, nil
}
