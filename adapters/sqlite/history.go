package sqlite

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

// chained runs do in a transaction that may append to the history. There is
// one that writes at a time, so that nobody appends in between.
func (s *Store) chained(ctx context.Context, do func(context.Context, *sql.Tx, *chain) error) error {
	var changed []pagestate.Change
	err := s.together(ctx, func(ctx context.Context, tx *sql.Tx) error {
		was, err := headOf(ctx, tx)
		if err != nil {
			return err
		}
		c := &chain{head: was}
		if err := do(ctx, tx, c); err != nil {
			return err
		}
		changed = c.changed
		if c.head == was {
			return nil
		}
		_, err = exec(ctx, tx, "UPDATE history_head SET seq = ?, hash = ?", c.head.Seq, c.head.Hash[:])
		return err
	})
	if err != nil {
		return because(ctx, err)
	}
	s.tellers.Tell(changed...)
	return nil
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
	if _, err := exec(ctx, tx, "INSERT INTO history (seq, record, body, hash) VALUES (?, ?, ?, ?)", sealed.Seq, sealed.Record, sealed.Body, sealed.Hash); err != nil {
		return err
	}
	c.head = next
	c.changed = append(c.changed, pagestate.Change{Kind: pagestate.Record, ID: e.Record})
	return nil
}

// Walk gives every entry, then every record, as of one moment.
func (s *Store) Walk(ctx context.Context, entry func(record.Sealed) error, each func(record.Stored) error) (record.Head, error) {
	head, err := walk(ctx, s.read, entry, each)
	if err != nil {
		return record.Head{}, fmt.Errorf("history: %w", because(ctx, err))
	}
	return head, nil
}

// Head is the last entry.
func (s *Store) Head(ctx context.Context) (record.Head, error) {
	var seq int64
	var hash []byte
	if err := s.read.QueryRowContext(ctx, "SELECT seq, hash FROM history_head").Scan(&seq, &hash); err != nil {
		return record.Head{}, fmt.Errorf("history: %w", because(ctx, err))
	}
	return record.HeadOf(seq, hash)
}

// Touched names the records of the entries after one.
func (s *Store) Touched(ctx context.Context, after, to int64, limit int) (ids []string, last int64, err error) {
	last = after
	rows, err := s.read.QueryContext(ctx, "SELECT seq, record FROM history WHERE seq > ? AND seq <= ? ORDER BY seq LIMIT ?", after, to, limit)
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

// beginner is a pool or one connection of it.
type beginner interface {
	BeginTx(ctx context.Context, options *sql.TxOptions) (*sql.Tx, error)
}

func walk(ctx context.Context, in beginner, entry func(record.Sealed) error, each func(record.Stored) error) (head record.Head, err error) {
	tx, err := in.BeginTx(ctx, &sql.TxOptions{ReadOnly: true}) // one moment for all
	if err != nil {
		return head, err
	}
	defer tx.Rollback()
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
	err = s.chained(ctx, func(ctx context.Context, tx *sql.Tx, c *chain) (err error) {
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
			WHERE r.asked >= ?1 OR r.over = 0 OR r.id IN (SELECT record FROM history WHERE seq > ?2)`,
			micros(before), through).Scan(&first); err != nil {
			return 0, err
		}
		if !first.Valid || first.Int64 > through {
			break
		}
		through = first.Int64 - 1
	}
	n, err := exec(ctx, tx, "DELETE FROM record WHERE id IN (SELECT record FROM history WHERE seq <= ?)", through)
	if err != nil || n == 0 {
		return 0, err
	}
	var last record.Sealed
	if err := tx.QueryRowContext(ctx, "SELECT seq, hash FROM history WHERE seq = ?", through).Scan(&last.Seq, &last.Hash); err != nil {
		return 0, err
	}
	if _, err := exec(ctx, tx, "DELETE FROM record_card WHERE record IN (SELECT record FROM history WHERE seq <= ?)", through); err != nil {
		return 0, err
	}
	if _, err := exec(ctx, tx, "DELETE FROM history WHERE seq <= ?", through); err != nil {
		return 0, err
	}
	return int(n), c.append(ctx, tx, record.Pruning(last, int(n), at))
}
