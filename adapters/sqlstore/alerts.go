package sqlstore

import (
	"context"
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
	j := a.Judgement
	return s.insertAndPost(ctx, "open alert", a.Base, posts, `
		INSERT INTO alert (base, day, seq, kind, state, low_c, low_at, below_from, below_to,
			hours_known, covered, covered_from, covered_to, restriction_c, source, issued, note, made)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16, $17, $18)
		ON CONFLICT (base, day, seq) DO NOTHING`,
		a.Base, a.Day, a.Seq, string(a.Kind), j.State.String(), float64(j.Low), j.LowAt, j.BelowFrom, j.BelowTo,
		j.HoursKnown, j.Covered, j.CoveredFrom, j.CoveredTo, float64(j.Restriction), j.Source, j.Issued, j.Note, a.Made)
}

// Acknowledge writes an acknowledgement and the posts that tell it.
func (s *Store) Acknowledge(ctx context.Context, a watch.Ack, posts []outbox.Item) (fresh bool, err error) {
	return s.insertAndPost(ctx, "acknowledge", a.Base, posts, `
		INSERT INTO ack (base, day, seq, by, acknowledged) VALUES ($1, $2, $3, $4, $5)
		ON CONFLICT (base, day, seq, by) DO NOTHING`,
		a.Base, a.Day, a.Seq, a.By, a.At)
}

// insertAndPost writes a row of a base's day and the posts that tell it, unless
// the row is there already.
func (s *Store) insertAndPost(ctx context.Context, what, base string, posts []outbox.Item, query string, args ...any) (fresh bool, err error) {
	err = s.write(ctx, what, func(ctx context.Context, t *tx) error {
		n, err := exec(ctx, t, query, args...)
		if err != nil || n == 0 {
			return err
		}
		fresh = true
		t.changed(pagestate.Change{Kind: pagestate.Watch, ID: base})
		_, err = enqueue(ctx, t, posts)
		return err
	})
	return fresh && err == nil, err
}

// Snooze sets how long a base's day is quiet; the last word holds.
func (s *Store) Snooze(ctx context.Context, base, day string, until time.Time, by string) error {
	return s.write(ctx, "snooze", func(ctx context.Context, t *tx) error {
		t.changed(pagestate.Change{Kind: pagestate.Watch, ID: base})
		_, err := exec(ctx, t, `
			INSERT INTO snooze (base, day, until, by) VALUES ($1, $2, $3, $4)
			ON CONFLICT (base, day) DO UPDATE SET until = excluded.until, by = excluded.by`,
			base, day, until, by)
		return err
	})
}

// Day is all that is known of a base's day.
func (s *Store) Day(ctx context.Context, base, day string) (watch.Day, error) {
	d, err := s.day(ctx, base, day)
	if err != nil {
		return watch.Day{}, wrap(ctx, "day", err)
	}
	return d, nil
}

func (s *Store) day(ctx context.Context, base, day string) (d watch.Day, err error) {
	t, err := s.snapshot(ctx)
	if err != nil {
		return d, err
	}
	defer t.Rollback()
	d.Alerts, err = list(ctx, t, func(row scanner, a *watch.Alert) error {
		a.Base, a.Day = base, day
		return scanAlert(row, a)
	}, `
		SELECT seq, kind, state, low_c, low_at, below_from, below_to,
			hours_known, covered, covered_from, covered_to, restriction_c, source, issued, note, made
		FROM alert WHERE base = $1 AND day = $2 ORDER BY seq`, base, day)
	if err != nil {
		return d, err
	}
	d.Acks, err = list(ctx, t, func(row scanner, a *watch.Ack) error {
		a.Base, a.Day = base, day
		return row.Scan(&a.Seq, &a.By, scanTime{&a.At})
	}, "SELECT seq, by, acknowledged FROM ack WHERE base = $1 AND day = $2 ORDER BY acknowledged, seq, by", base, day)
	if err != nil {
		return d, err
	}
	_, err = found(t.QueryRowContext(ctx, "SELECT until FROM snooze WHERE base = $1 AND day = $2", base, day).Scan(scanTime{&d.SnoozedUntil}))
	return d, err
}

func scanAlert(row scanner, a *watch.Alert) error {
	j := &a.Judgement
	var state string
	if err := row.Scan(&a.Seq, &a.Kind, &state, &j.Low, scanTime{&j.LowAt}, scanTime{&j.BelowFrom}, scanTime{&j.BelowTo},
		&j.HoursKnown, &j.Covered, scanTime{&j.CoveredFrom}, scanTime{&j.CoveredTo}, &j.Restriction, &j.Source, scanTime{&j.Issued}, &j.Note, scanTime{&a.Made}); err != nil {
		return err
	}
	var known bool
	if j.State, known = coldwatch.ParseState(state); !known {
		return fmt.Errorf("alert %d has the state %q, which is not known", a.Seq, state)
	}
	return nil
}

// Born is when the store was made: when its schema was, or its first alert,
// which a store that was moved here has from before.
func (s *Store) Born(ctx context.Context) (time.Time, error) {
	var schema, first time.Time
	err := s.reader.QueryRowContext(ctx, "SELECT ("+s.sql.schema+"), (SELECT min(made) FROM alert)").Scan(scanTime{&schema}, scanTime{&first})
	switch {
	case err != nil:
		return time.Time{}, wrap(ctx, "when the store was made", err)
	case !first.IsZero() && first.Before(schema):
		return first, nil
	}
	return schema, nil
}
