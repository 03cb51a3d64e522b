package sqlstore

import (
	"context"
	"database/sql"
	"errors"
	"time"

	"firn/bot/pagestate"
	"firn/bot/record"
)

// chain is the end of the history, within a transaction.
type chain struct {
	*tx
	head record.Head
}

// chained runs do in a transaction that may append to the history, one at a
// time of all processes.
func (s *Store) chained(ctx context.Context, what string, do func(context.Context, *chain) error) error {
	return s.write(ctx, what, func(ctx context.Context, t *tx) error {
		if err := t.lock(ctx, s.sql.lockHistory); err != nil {
			return err
		}
		was, err := headOf(ctx, t)
		if err != nil {
			return err
		}
		c := &chain{t, was}
		if err := do(ctx, c); err != nil || c.head == was {
			return err
		}
		_, err = exec(ctx, t, "UPDATE history_head SET seq = $1, hash = $2", c.head.Seq, c.head.Hash[:])
		return err
	})
}

// errHeadless is what a tampered or damaged store says, in words for people.
var errHeadless = errors.New("the row that names the last entry of the history is gone, so that its end cannot be proved: put a copy of the store back")

func headOf(ctx context.Context, on conn) (record.Head, error) {
	var seq int64
	var hash []byte
	err := on.QueryRowContext(ctx, "SELECT seq, hash FROM history_head").Scan(&seq, &hash)
	if errors.Is(err, sql.ErrNoRows) {
		err = errHeadless
	}
	if err != nil {
		return record.Head{}, err
	}
	return record.HeadOf(seq, hash)
}

// append writes an entry behind the head.
func (c *chain) append(ctx context.Context, e record.Entry) error {
	sealed, next, err := c.head.Append(e)
	if err != nil {
		return err
	}
	if _, err := exec(ctx, c, "INSERT INTO history (seq, record, body, hash) VALUES ($1, $2, $3, $4)", sealed.Seq, sealed.Record, sealed.Body, sealed.Hash); err != nil {
		return err
	}
	c.head = next
	c.changed(pagestate.Change{Kind: pagestate.Record, ID: e.Record})
	return nil
}

// Walk gives every entry, then every record, as of one moment.
func (s *Store) Walk(ctx context.Context, entry func(record.Sealed) error, each func(record.Stored) error) (record.Head, error) {
	t, err := s.snapshot(ctx)
	if err != nil {
		return record.Head{}, wrap(ctx, "history", err)
	}
	defer t.Rollback()
	return walker{t}.Walk(ctx, entry, each)
}

// Head is the last entry.
func (s *Store) Head(ctx context.Context) (record.Head, error) {
	head, err := headOf(ctx, s.reader)
	return head, wrap(ctx, "history", err)
}

// Touched names the records of the entries after one.
func (s *Store) Touched(ctx context.Context, after, to int64, limit int) (ids []string, last int64, err error) {
	last = after
	known := map[string]bool{"": true}
	err = each(ctx, s.reader, func(row scanner) error {
		var id string
		if err := row.Scan(&last, &id); err != nil {
			return err
		}
		if !known[id] {
			known[id] = true
			ids = append(ids, id)
		}
		return nil
	}, "SELECT seq, record FROM history WHERE seq > $1 AND seq <= $2 ORDER BY seq LIMIT $3", after, to, limit)
	if err != nil {
		return nil, after, wrap(ctx, "history", err)
	}
	return ids, last, nil
}

// walker is the history as a transaction sees it.
type walker struct{ *sql.Tx }

// Walk gives every entry, then every record.
func (w walker) Walk(ctx context.Context, entry func(record.Sealed) error, give func(record.Stored) error) (record.Head, error) {
	head, err := headOf(ctx, w)
	if err == nil {
		err = each(ctx, w, func(row scanner) error {
			var e record.Sealed
			if err := row.Scan(&e.Seq, &e.Record, &e.Body, &e.Hash); err != nil {
				return err
			}
			return entry(e)
		}, "SELECT seq, record, body, hash FROM history ORDER BY seq")
	}
	if err == nil {
		err = each(ctx, w, func(row scanner) error {
			var r record.Stored
			c := &r.Found
			if err := row.Scan(&r.ID, &r.Made, &r.Live, &c.Surface, &c.Message, &c.Thread, &c.Station, &c.Owner, scanTime{&c.Asked}, scanTime{&c.Expires}, &c.Rev, &c.Over); err != nil {
				return err
			}
			return give(r)
		}, "SELECT id, made, live, surface, message, thread, station, owner, asked, expires, rev, over FROM record ORDER BY asked, id")
	}
	if err != nil {
		return record.Head{}, wrap(ctx, "history", err)
	}
	return head, nil
}

// Prune takes old records with their entries, from the front.
func (s *Store) Prune(ctx context.Context, before, at time.Time) (records int, err error) {
	err = s.chained(ctx, "prune", func(ctx context.Context, c *chain) (err error) {
		records, err = c.prune(ctx, before, at)
		return err
	})
	if err != nil {
		return 0, err
	}
	return records, nil
}

func (c *chain) prune(ctx context.Context, before, at time.Time) (int, error) {
	// The first entry of a record that stays ends what may go; a record with an
	// entry behind it stays as well, and so on.
	through := c.head.Seq
	for {
		var first sql.NullInt64
		if err := c.QueryRowContext(ctx, `
			SELECT min(h.seq) FROM history h JOIN record r ON r.id = h.record
			WHERE r.asked >= $1 OR NOT r.over OR r.id IN (SELECT record FROM history WHERE seq > $2)`,
			before, through).Scan(&first); err != nil {
			return 0, err
		}
		if !first.Valid || first.Int64 > through {
			break
		}
		through = first.Int64 - 1
	}
	n, err := exec(ctx, c, "DELETE FROM record WHERE id IN (SELECT record FROM history WHERE seq <= $1)", through)
	if err != nil || n == 0 {
		return 0, err
	}
	var last record.Sealed
	if err := c.QueryRowContext(ctx, "SELECT seq, hash FROM history WHERE seq = $1", through).Scan(&last.Seq, &last.Hash); err != nil {
		return 0, err
	}
	for _, query := range []string{
		"DELETE FROM record_card WHERE record IN (SELECT record FROM history WHERE seq <= $1)",
		"DELETE FROM history WHERE seq <= $1",
	} {
		if _, err := exec(ctx, c, query, through); err != nil {
			return 0, err
		}
	}
	return int(n), c.append(ctx, record.Pruning(last, int(n), at))
}
