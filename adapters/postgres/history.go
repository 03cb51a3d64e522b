package postgres

import (
	"context"
	"database/sql"
	"fmt"
	"time"

	"firn/bot/pagestate"
	"firn/bot/record"
)

// chain is the end of the history, within a transaction.
type chain struct {
	head    record.Head
	changed []pagestate.Change
}

// historyLock is the number of the lock on the history's end ("firn" in
// ASCII, and 1).
const historyLock = 0x6669726e_00000001

// chained runs do in a transaction that may append to the history. The lock
// lets one transaction of all replicas append at a time; it ends with the
// transaction.
func (s *Store) chained(ctx context.Context, do func(*sql.Tx, *chain) error) error {
	tx, err := s.db.BeginTx(ctx, nil)
	if err != nil {
		return because(ctx, err)
	}
	defer tx.Rollback() // after a commit it does nothing
	if _, err := tx.ExecContext(ctx, "SELECT pg_advisory_xact_lock($1)", int64(historyLock)); err != nil {
		return because(ctx, err)
	}
	was, err := headOf(ctx, tx)
	if err != nil {
		return because(ctx, err)
	}
	c := &chain{head: was}
	if err := do(tx, c); err != nil {
		return because(ctx, err)
	}
	if c.head != was {
		if _, err := exec(ctx, tx, "UPDATE history_head SET seq = $1, hash = $2", c.head.Seq, c.head.Hash[:]); err != nil {
			return err
		}
	}
	if err := notify(ctx, tx, c.changed...); err != nil {
		return err
	}
	return because(ctx, tx.Commit())
}

func headOf(ctx context.Context, tx *sql.Tx) (record.Head, error) {
	var seq int64
	var hash []byte
	if err := tx.QueryRowContext(ctx, "SELECT seq, hash FROM history_head").Scan(&seq, &hash); err != nil {
		return record.Head{}, err
	}
	return record.HeadOf(seq, hash)
}

// append writes an entry behind the head.
func (c *chain) append(ctx context.Context, tx *sql.Tx, e record.Entry) error {
	sealed, next, err := c.head.Append(e)
	if err != nil {
		return err
	}
	if _, err := exec(ctx, tx, "INSERT INTO history (seq, record, body, hash) VALUES ($1, $2, $3, $4)", sealed.Seq, sealed.Record, sealed.Body, sealed.Hash); err != nil {
		return err
	}
	c.head = next
	c.changed = append(c.changed, pagestate.Change{Kind: pagestate.Record, ID: e.Record})
	return nil
}

// Walk gives every entry, then every record, as of one moment.
func (s *Store) Walk(ctx context.Context, entry func(record.Sealed) error, each func(record.Stored) error) (record.Head, error) {
	head, err := s.walk(ctx, entry, each)
	if err != nil {
		return record.Head{}, fmt.Errorf("history: %w", because(ctx, err))
	}
	return head, nil
}

// Head is the last entry.
func (s *Store) Head(ctx context.Context) (record.Head, error) {
	var seq int64
	var hash []byte
	if err := s.db.QueryRowContext(ctx, "SELECT seq, hash FROM history_head").Scan(&seq, &hash); err != nil {
		return record.Head{}, fmt.Errorf("history: %w", because(ctx, err))
	}
	return record.HeadOf(seq, hash)
}

// Touched names the records of the entries after one.
func (s *Store) Touched(ctx context.Context, after, to int64, limit int) (ids []string, last int64, err error) {
	last = after
	rows, err := s.db.QueryContext(ctx, "SELECT seq, record FROM history WHERE seq > $1 AND seq <= $2 ORDER BY seq LIMIT $3", after, to, limit)
	if err != nil {
		return nil, after, fmt.Errorf("history: %w", because(ctx, err))
	}
	defer rows.Close()
	known := map[string]bool{"": true}
	for rows.Next() {
		var id string
		if err := rows.Scan(&last, &id); err != nil {
			return nil, after, fmt.Errorf("history: %w", because(ctx, err))
		}
		if !known[id] {
			known[id] = true
			ids = append(ids, id)
		}
	}
	if err := rows.Err(); err != nil {
		return nil, after, fmt.Errorf("history: %w", because(ctx, err))
	}
	return ids, last, nil
}

func (s *Store) walk(ctx context.Context, entry func(record.Sealed) error, each func(record.Stored) error) (head record.Head, err error) {
	tx, err := s.db.BeginTx(ctx, &sql.TxOptions{Isolation: sql.LevelRepeatableRead, ReadOnly: true}) // one moment for all
	if err != nil {
		return head, err
	}
	defer tx.Rollback()
	return walkIn(ctx, tx, entry, each)
}

func walkIn(ctx context.Context, tx *sql.Tx, entry func(record.Sealed) error, each func(record.Stored) error) (head record.Head, err error) {
	if head, err = headOf(ctx, tx); err != nil {
		return head, err
	}
	err = scan(ctx, tx, "SELECT seq, record, body, hash FROM history ORDER BY seq", func(rows *sql.Rows) error {
		var e record.Sealed
		if err := rows.Scan(&e.Seq, &e.Record, &e.Body, &e.Hash); err != nil {
			return err
		}
		return entry(e)
	})
	if err != nil {
		return head, err
	}
	return head, scan(ctx, tx, "SELECT id, made, live, surface, message, thread, station, asked, expires, rev, over FROM record ORDER BY asked, id", func(rows *sql.Rows) error {
		var r record.Stored
		c := &r.Found
		if err := rows.Scan(&r.ID, &r.Made, &r.Live, &c.Surface, &c.Message, &c.Thread, &c.Station, moment{&c.Asked}, moment{&c.Expires}, &c.Rev, &c.Over); err != nil {
			return err
		}
		return each(r)
	})
}

// scan calls each for every row of a query.
func scan(ctx context.Context, tx *sql.Tx, query string, each func(*sql.Rows) error) error {
	rows, err := tx.QueryContext(ctx, query)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		if err := each(rows); err != nil {
			return err
		}
	}
	return rows.Err()
}

// Prune takes old records with their entries, from the front.
func (s *Store) Prune(ctx context.Context, before, at time.Time) (records int, err error) {
	err = s.chained(ctx, func(tx *sql.Tx, c *chain) error {
		records, err = c.prune(ctx, tx, before, at)
		return err
	})
	if err != nil {
		return 0, fmt.Errorf("prune: %w", err)
	}
	return records, nil
}

func (c *chain) prune(ctx context.Context, tx *sql.Tx, before, at time.Time) (int, error) {
	// The first entry of a record that stays ends what may go; a record with an
	// entry behind it stays as well, and so on.
	through := c.head.Seq
	for {
		var first sql.NullInt64
		if err := tx.QueryRowContext(ctx, `
			SELECT min(h.seq) FROM history h JOIN record r ON r.id = h.record
			WHERE r.asked >= $1 OR NOT r.over OR r.id IN (SELECT record FROM history WHERE seq > $2)`,
			instant(before), through).Scan(&first); err != nil {
			return 0, err
		}
		if !first.Valid || first.Int64 > through {
			break
		}
		through = first.Int64 - 1
	}
	n, err := exec(ctx, tx, "DELETE FROM record WHERE id IN (SELECT record FROM history WHERE seq <= $1)", through)
	if err != nil || n == 0 {
		return 0, err
	}
	var last record.Sealed
	if err := tx.QueryRowContext(ctx, "SELECT seq, hash FROM history WHERE seq = $1", through).Scan(&last.Seq, &last.Hash); err != nil {
		return 0, err
	}
	if _, err := exec(ctx, tx, "DELETE FROM record_card WHERE record IN (SELECT record FROM history WHERE seq <= $1)", through); err != nil {
		return 0, err
	}
	if _, err := exec(ctx, tx, "DELETE FROM history WHERE seq <= $1", through); err != nil {
		return 0, err
	}
	return int(n), c.append(ctx, tx, record.Pruning(last, int(n), at))
}
