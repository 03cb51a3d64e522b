package sqlite

import (
	"context"
	"database/sql"
	"fmt"
	"time"

	"firn/bot/pagestate"
)

var (
	_ pagestate.Store = (*Store)(nil)
	_ pagestate.Feed  = (*Store)(nil)
)

// Edit puts an entry into a place.
func (s *Store) Edit(ctx context.Context, place, id string, at time.Time, change func(pagestate.Entry, bool) (pagestate.Entry, bool)) error {
	changed := false
	err := s.inTurn(ctx, "edit the page", func(tx *sql.Tx) error {
		var was int64
		if _, err := found(tx.QueryRowContext(ctx, "SELECT rev FROM page_place WHERE place = ?", place).Scan(&was)); err != nil {
			return err
		}
		old, there, err := entryIn(ctx, tx, place, id)
		if err != nil {
			return err
		}
		is, keep := change(old, there)
		if !keep {
			return nil
		}
		changed = true
		rev := pagestate.Next(was, at)
		if _, err := exec(ctx, tx, `
			INSERT INTO page_place (place, rev, used) VALUES (?, ?, ?)
			ON CONFLICT (place) DO UPDATE SET rev = excluded.rev, used = excluded.used`, place, rev, micros(at)); err != nil {
			return err
		}
		if _, err := exec(ctx, tx, `
			INSERT INTO page_entry (place, id, under, born, rev, made, body) VALUES (?1, ?2, ?3, ?4, ?4, ?5, ?6)
			ON CONFLICT (place, id) DO UPDATE SET under = excluded.under, rev = excluded.rev, made = excluded.made, body = excluded.body`,
			place, id, is.Under, rev, micros(is.Made), is.Body); err != nil {
			return err
		}
		if is.Files != nil {
			if _, err := exec(ctx, tx, "DELETE FROM page_file WHERE place = ? AND entry = ?", place, id); err != nil {
				return err
			}
			for n, data := range is.Files {
				if _, err := exec(ctx, tx, "INSERT INTO page_file (place, entry, n, data) VALUES (?, ?, ?, ?)", place, id, n, append([]byte{}, data...)); err != nil {
					return err
				}
			}
		}
		return trimEntries(ctx, tx, "place = ? AND under = ? ORDER BY born DESC LIMIT -1 OFFSET ?", place, is.Under, pagestate.Most(place, is.Under))
	})
	if err == nil && changed {
		s.tellers.Tell(pagestate.Change{Kind: pagestate.Place, ID: place})
	}
	return err
}

// trimEntries takes the entries that a condition chooses, with all below them.
func trimEntries(ctx context.Context, tx *sql.Tx, which string, args ...any) error {
	all, err := pairs(ctx, tx, "SELECT place, id FROM page_entry WHERE "+which, args...)
	if err != nil {
		return err
	}
	for _, e := range all {
		for _, query := range []string{
			"DELETE FROM page_file WHERE place = ?1 AND entry IN (SELECT id FROM page_entry WHERE place = ?1 AND (id = ?2 OR under = ?2))",
			"DELETE FROM page_entry WHERE place = ?1 AND (id = ?2 OR under = ?2)",
		} {
			if _, err := exec(ctx, tx, query, e[0], e[1]); err != nil {
				return err
			}
		}
	}
	return nil
}

// trimPlaces takes the places that a condition chooses.
func trimPlaces(ctx context.Context, tx *sql.Tx, which string, args ...any) error {
	all, err := pairs(ctx, tx, "SELECT place, '' FROM page_place WHERE "+which, args...)
	if err != nil {
		return err
	}
	for _, p := range all {
		for _, table := range []string{"page_file", "page_entry", "page_place"} {
			if _, err := exec(ctx, tx, "DELETE FROM "+table+" WHERE place = ?", p[0]); err != nil {
				return err
			}
		}
	}
	return nil
}

func pairs(ctx context.Context, tx *sql.Tx, query string, args ...any) (all [][2]string, err error) {
	rows, err := tx.QueryContext(ctx, query, args...)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	for rows.Next() {
		var p [2]string
		if err := rows.Scan(&p[0], &p[1]); err != nil {
			return nil, err
		}
		all = append(all, p)
	}
	return all, rows.Err()
}

// asker is a connection pool or a transaction.
type asker interface {
	QueryRowContext(ctx context.Context, query string, args ...any) *sql.Row
}

func entryIn(ctx context.Context, from asker, place, id string) (e pagestate.Entry, there bool, err error) {
	e = pagestate.Entry{Place: place, ID: id}
	there, err = found(from.QueryRowContext(ctx, "SELECT under, rev, made, body FROM page_entry WHERE place = ? AND id = ?", place, id).
		Scan(&e.Under, &e.Rev, moment{&e.Made}, &e.Body))
	return e, there, err
}

// Since gives what was edited after a revision.
func (s *Store) Since(ctx context.Context, place string, rev int64) (all []pagestate.Entry, is int64, err error) {
	if all, is, err = s.since(ctx, place, rev); err != nil {
		return nil, 0, fmt.Errorf("read the page: %w", because(ctx, err))
	}
	return all, is, nil
}

func (s *Store) since(ctx context.Context, place string, rev int64) (all []pagestate.Entry, is int64, err error) {
	tx, err := s.read.BeginTx(ctx, nil) // one moment for both
	if err != nil {
		return nil, 0, err
	}
	defer tx.Rollback()
	if known, err := found(tx.QueryRowContext(ctx, "SELECT rev FROM page_place WHERE place = ?", place).Scan(&is)); err != nil || !known || is <= rev {
		return nil, is, err
	}
	rows, err := tx.QueryContext(ctx, "SELECT id, under, rev, made, body FROM page_entry WHERE place = ? AND rev > ? ORDER BY born", place, rev)
	if err != nil {
		return nil, 0, err
	}
	defer rows.Close()
	for rows.Next() {
		e := pagestate.Entry{Place: place}
		if err := rows.Scan(&e.ID, &e.Under, &e.Rev, moment{&e.Made}, &e.Body); err != nil {
			return nil, 0, err
		}
		all = append(all, e)
	}
	return all, is, rows.Err()
}

// Entry is one.
func (s *Store) Entry(ctx context.Context, place, id string) (pagestate.Entry, bool, error) {
	e, there, err := entryIn(ctx, s.read, place, id)
	if err != nil || !there {
		if err != nil {
			err = fmt.Errorf("read the page: %w", because(ctx, err))
		}
		return pagestate.Entry{}, false, err
	}
	return e, true, nil
}

// File is one of an entry's.
func (s *Store) File(ctx context.Context, place, id string, n int) (data []byte, there bool, err error) {
	there, err = found(s.read.QueryRowContext(ctx, "SELECT data FROM page_file WHERE place = ? AND entry = ? AND n = ?", place, id, n).Scan(&data))
	if err != nil {
		return nil, false, fmt.Errorf("read a file: %w", because(ctx, err))
	}
	return data, there, nil
}

// Forget forgets a place.
func (s *Store) Forget(ctx context.Context, place string) error {
	return s.inTurn(ctx, "forget a conversation", func(tx *sql.Tx) error { return trimPlaces(ctx, tx, "place = ?", place) })
}

// Sweep forgets what is old.
func (s *Store) Sweep(ctx context.Context, idle, old time.Time, most int) error {
	return s.inTurn(ctx, "sweep the page", func(tx *sql.Tx) error {
		if err := trimPlaces(ctx, tx, "place <> ? AND used < ?", pagestate.Posts, micros(idle)); err != nil {
			return err
		}
		if err := trimPlaces(ctx, tx, "place <> ? ORDER BY used DESC LIMIT -1 OFFSET ?", pagestate.Posts, most); err != nil {
			return err
		}
		return trimEntries(ctx, tx, "place = ? AND under = '' AND made < ?", pagestate.Posts, micros(old))
	})
}

// lookEvery is how often it is looked for what other processes have written.
const lookEvery = 500 * time.Millisecond

// Follow tells what this process changes as it happens, and that another one
// has changed something soon after: SQLite counts what others write, and does
// not say what it was.
func (s *Store) Follow(ctx context.Context, tell func(pagestate.Change)) error {
	defer s.tellers.Add(tell)()
	t := time.NewTicker(lookEvery)
	defer t.Stop()
	for last := int64(-1); ; {
		var is int64
		// On the connection that writes, so that its own do not count.
		if err := s.write.QueryRowContext(ctx, "PRAGMA data_version").Scan(&is); err != nil {
			return fmt.Errorf("follow changes: %w", because(ctx, err))
		}
		if is != last {
			last = is
			tell(pagestate.Change{Kind: pagestate.All})
		}
		select {
		case <-t.C:
		case <-ctx.Done():
			return ctx.Err()
		}
	}
}
