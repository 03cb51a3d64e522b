package sqlstore

import (
	"context"
	"errors"
	"time"

	"firn/bot/pagestate"
)

var _ pagestate.Store = (*Store)(nil)

// errForgotten is a place that went between two statements.
var errForgotten = errors.New("the place was forgotten meanwhile")

// Edit puts an entry into a place. The row of the place is locked first, so
// that one edit of it comes after another, whichever process does it.
func (s *Store) Edit(ctx context.Context, place, id string, at time.Time, change func(pagestate.Entry, bool) (pagestate.Entry, bool)) error {
	for {
		err := s.write(ctx, "edit the page", func(ctx context.Context, t *tx) error {
			return s.edit(ctx, t, place, id, at, change)
		})
		if !errors.Is(err, errForgotten) {
			return err
		}
	}
}

func (s *Store) edit(ctx context.Context, t *tx, place, id string, at time.Time, change func(pagestate.Entry, bool) (pagestate.Entry, bool)) error {
	fresh, err := exec(ctx, t, "INSERT INTO page_place (place, rev, used) VALUES ($1, 0, $2) ON CONFLICT (place) DO NOTHING", place, at)
	if err != nil {
		return err
	}
	var was int64
	there, err := found(t.QueryRowContext(ctx, "SELECT rev FROM page_place WHERE place = $1"+s.sql.forUpdate, place).Scan(&was))
	if err == nil && !there {
		err = errForgotten
	}
	if err != nil {
		return err
	}
	old, there, err := entryIn(ctx, t, place, id)
	if err != nil {
		return err
	}
	is, keep := change(old, there)
	if !keep {
		if fresh > 0 {
			_, err = exec(ctx, t, "DELETE FROM page_place WHERE place = $1", place)
		}
		return err
	}
	rev := pagestate.Next(was, at)
	if _, err := exec(ctx, t, "UPDATE page_place SET rev = $1, used = $2 WHERE place = $3", rev, at, place); err != nil {
		return err
	}
	if _, err := exec(ctx, t, `
		INSERT INTO page_entry (place, id, under, born, rev, made, body) VALUES ($1, $2, $3, $4, $4, $5, $6)
		ON CONFLICT (place, id) DO UPDATE SET under = excluded.under, rev = excluded.rev, made = excluded.made, body = excluded.body`,
		place, id, is.Under, rev, is.Made, is.Body); err != nil {
		return err
	}
	if err := setFiles(ctx, t, place, id, is.Files); err != nil {
		return err
	}
	t.changed(pagestate.Change{Kind: pagestate.Place, ID: place})
	return trimEntries(ctx, t, "place = $1 AND under = $2 ORDER BY born DESC LIMIT "+noLimit+" OFFSET $3", place, is.Under, pagestate.Most(place, is.Under))
}

// noLimit is what SQLite needs before an OFFSET.
const noLimit = "9223372036854775807"

// setFiles puts other files into the place of an entry's; nil leaves them.
func setFiles(ctx context.Context, t *tx, place, id string, files [][]byte) error {
	if files == nil {
		return nil
	}
	if _, err := exec(ctx, t, "DELETE FROM page_file WHERE place = $1 AND entry = $2", place, id); err != nil {
		return err
	}
	for n, data := range files {
		if _, err := exec(ctx, t, "INSERT INTO page_file (place, entry, n, data) VALUES ($1, $2, $3, $4)", place, id, n, append([]byte{}, data...)); err != nil {
			return err
		}
	}
	return nil
}

// trimEntries takes the entries that a condition chooses, with all below them.
func trimEntries(ctx context.Context, t *tx, which string, args ...any) error {
	chosen, err := list(ctx, t, scanEntry, "SELECT place, id, under, rev, made, '' FROM page_entry WHERE "+which, args...)
	if err != nil {
		return err
	}
	for _, e := range chosen {
		for _, query := range []string{
			"DELETE FROM page_file WHERE place = $1 AND entry IN (SELECT id FROM page_entry WHERE place = $1 AND (id = $2 OR under = $2))",
			"DELETE FROM page_entry WHERE place = $1 AND (id = $2 OR under = $2)",
		} {
			if _, err := exec(ctx, t, query, e.Place, e.ID); err != nil {
				return err
			}
		}
	}
	return nil
}

// trimPlaces takes the places that a condition chooses. One that is being
// edited stays: it is not as old as it seems, and two must not wait for each
// other.
func (s *Store) trimPlaces(ctx context.Context, t *tx, which string, args ...any) error {
	chosen, err := list(ctx, t, func(row scanner, place *string) error { return row.Scan(place) },
		"SELECT place FROM page_place WHERE place IN (SELECT place FROM page_place WHERE "+which+")"+s.sql.skipLocked, args...)
	if err != nil {
		return err
	}
	for _, place := range chosen {
		if err := forget(ctx, t, place); err != nil {
			return err
		}
	}
	return nil
}

func forget(ctx context.Context, t *tx, place string) error {
	for _, table := range []string{"page_place", "page_file", "page_entry"} {
		if _, err := exec(ctx, t, "DELETE FROM "+table+" WHERE place = $1", place); err != nil {
			return err
		}
	}
	return nil
}

func entryIn(ctx context.Context, on conn, place, id string) (e pagestate.Entry, there bool, err error) {
	e.ID = id
	there, err = found(scanEntry(on.QueryRowContext(ctx, "SELECT place, id, under, rev, made, body FROM page_entry WHERE place = $1 AND id = $2", place, id), &e))
	e.Place = place
	return e, there, err
}

func scanEntry(row scanner, e *pagestate.Entry) error {
	return row.Scan(&e.Place, &e.ID, &e.Under, &e.Rev, scanTime{&e.Made}, &e.Body)
}

// Since gives what was edited after a revision. The revision is read first:
// what is edited meanwhile is read and comes again, and nothing is missed.
func (s *Store) Since(ctx context.Context, place string, rev int64) (entries []pagestate.Entry, is int64, err error) {
	there, err := found(s.reader.QueryRowContext(ctx, "SELECT rev FROM page_place WHERE place = $1", place).Scan(&is))
	if err == nil && there && is > rev {
		entries, err = list(ctx, s.reader, scanEntry,
			"SELECT place, id, under, rev, made, body FROM page_entry WHERE place = $1 AND rev > $2 ORDER BY born", place, rev)
	}
	if err != nil {
		return nil, 0, wrap(ctx, "read the page", err)
	}
	return entries, is, nil
}

// Entry is one.
func (s *Store) Entry(ctx context.Context, place, id string) (pagestate.Entry, bool, error) {
	e, there, err := entryIn(ctx, s.reader, place, id)
	if err != nil || !there {
		return pagestate.Entry{}, false, wrap(ctx, "read the page", err)
	}
	return e, true, nil
}

// File is one of an entry's.
func (s *Store) File(ctx context.Context, place, id string, n int) (data []byte, there bool, err error) {
	there, err = found(s.reader.QueryRowContext(ctx, "SELECT data FROM page_file WHERE place = $1 AND entry = $2 AND n = $3", place, id, n).Scan(&data))
	return data, there, wrap(ctx, "read a file", err)
}

// Forget forgets a place. Whoever edits it now is waited for.
func (s *Store) Forget(ctx context.Context, place string) error {
	return s.write(ctx, "forget a conversation", func(ctx context.Context, t *tx) error { return forget(ctx, t, place) })
}

// Sweep forgets what is old.
func (s *Store) Sweep(ctx context.Context, idle, old time.Time, most int) error {
	return s.write(ctx, "sweep the page", func(ctx context.Context, t *tx) error {
		if err := s.trimPlaces(ctx, t, "place <> $1 AND used < $2", pagestate.Posts, idle); err != nil {
			return err
		}
		if err := s.trimPlaces(ctx, t, "place <> $1 ORDER BY used DESC LIMIT "+noLimit+" OFFSET $2", pagestate.Posts, most); err != nil {
			return err
		}
		return trimEntries(ctx, t, "place = $1 AND under = '' AND made < $2", pagestate.Posts, old)
	})
}
