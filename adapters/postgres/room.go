package postgres

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"

	"firn/bot/pagestate"
)

var (
	_ pagestate.Store = (*Store)(nil)
	_ pagestate.Feed  = (*Store)(nil)
)

// Edit puts an entry into a place. The row of the place is locked first, so
// that one edit of it comes after another, whichever process does it.
func (s *Store) Edit(ctx context.Context, place, id string, at time.Time, change func(pagestate.Entry, bool) (pagestate.Entry, bool)) error {
	err := s.inTurn(ctx, "edit the page", func(tx *sql.Tx) error {
		n, err := exec(ctx, tx, "INSERT INTO page_place (place, rev, used) VALUES ($1, 0, $2) ON CONFLICT (place) DO NOTHING", place, instant(at))
		if err != nil {
			return err
		}
		known := n == 0
		var was int64
		there, err := found(tx.QueryRowContext(ctx, "SELECT rev FROM page_place WHERE place = $1 FOR UPDATE", place).Scan(&was))
		if err == nil && !there {
			err = errForgotten
		}
		if err != nil {
			return err
		}
		old, there, err := entryIn(ctx, tx, place, id)
		if err != nil {
			return err
		}
		is, keep := change(old, there)
		if !keep {
			if known {
				return nil
			}
			_, err := exec(ctx, tx, "DELETE FROM page_place WHERE place = $1", place)
			return err
		}
		rev := pagestate.Next(was, at)
		if _, err := exec(ctx, tx, "UPDATE page_place SET rev = $1, used = $2 WHERE place = $3", rev, instant(at), place); err != nil {
			return err
		}
		if _, err := exec(ctx, tx, `
			INSERT INTO page_entry (place, id, under, born, rev, made, body) VALUES ($1, $2, $3, $4, $4, $5, $6)
			ON CONFLICT (place, id) DO UPDATE SET under = excluded.under, rev = excluded.rev, made = excluded.made, body = excluded.body`,
			place, id, is.Under, rev, instant(is.Made), is.Body); err != nil {
			return err
		}
		if is.Files != nil {
			if _, err := exec(ctx, tx, "DELETE FROM page_file WHERE place = $1 AND entry = $2", place, id); err != nil {
				return err
			}
			for n, data := range is.Files {
				if _, err := exec(ctx, tx, "INSERT INTO page_file (place, entry, n, data) VALUES ($1, $2, $3, $4)", place, id, n, append([]byte{}, data...)); err != nil {
					return err
				}
			}
		}
		if err := trimEntries(ctx, tx, "place = $1 AND under = $2 ORDER BY born DESC OFFSET $3", place, is.Under, pagestate.Most(place, is.Under)); err != nil {
			return err
		}
		return notify(ctx, tx, pagestate.Change{Kind: pagestate.Place, ID: place})
	})
	if errors.Is(err, errForgotten) {
		return s.Edit(ctx, place, id, at, change)
	}
	return err
}

// errForgotten is a place that went between two statements.
var errForgotten = errors.New("the place was forgotten meanwhile")

// trimEntries takes the entries that a condition chooses, with all below them.
func trimEntries(ctx context.Context, tx *sql.Tx, which string, args ...any) error {
	all, err := pairs(ctx, tx, "SELECT place, id FROM page_entry WHERE "+which, args...)
	if err != nil {
		return err
	}
	for _, e := range all {
		for _, query := range []string{
			"DELETE FROM page_file WHERE place = $1 AND entry IN (SELECT id FROM page_entry WHERE place = $1 AND (id = $2 OR under = $2))",
			"DELETE FROM page_entry WHERE place = $1 AND (id = $2 OR under = $2)",
		} {
			if _, err := exec(ctx, tx, query, e[0], e[1]); err != nil {
				return err
			}
		}
	}
	return nil
}

// trimPlaces takes the places that a condition chooses. One that is being
// edited stays: it is not as old as it seems, and two must not wait for each
// other.
func trimPlaces(ctx context.Context, tx *sql.Tx, which string, args ...any) error {
	all, err := pairs(ctx, tx, "SELECT place, '' FROM page_place WHERE place IN (SELECT place FROM page_place WHERE "+which+") FOR UPDATE SKIP LOCKED", args...)
	if err != nil {
		return err
	}
	for _, p := range all {
		for _, table := range []string{"page_file", "page_entry", "page_place"} {
			if _, err := exec(ctx, tx, "DELETE FROM "+table+" WHERE place = $1", p[0]); err != nil {
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
	there, err = found(from.QueryRowContext(ctx, "SELECT under, rev, made, body FROM page_entry WHERE place = $1 AND id = $2", place, id).
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
	// The revision is read first: what is edited meanwhile is read and comes
	// again, and nothing is missed.
	if known, err := found(s.db.QueryRowContext(ctx, "SELECT rev FROM page_place WHERE place = $1", place).Scan(&is)); err != nil || !known || is <= rev {
		return nil, is, err
	}
	rows, err := s.db.QueryContext(ctx, "SELECT id, under, rev, made, body FROM page_entry WHERE place = $1 AND rev > $2 ORDER BY born", place, rev)
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
	e, there, err := entryIn(ctx, s.db, place, id)
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
	there, err = found(s.db.QueryRowContext(ctx, "SELECT data FROM page_file WHERE place = $1 AND entry = $2 AND n = $3", place, id, n).Scan(&data))
	if err != nil {
		return nil, false, fmt.Errorf("read a file: %w", because(ctx, err))
	}
	return data, there, nil
}

// Forget forgets a place.
func (s *Store) Forget(ctx context.Context, place string) error {
	return s.inTurn(ctx, "forget a conversation", func(tx *sql.Tx) error {
		// Whoever edits it now is waited for.
		if _, err := exec(ctx, tx, "DELETE FROM page_place WHERE place = $1", place); err != nil {
			return err
		}
		for _, table := range []string{"page_file", "page_entry"} {
			if _, err := exec(ctx, tx, "DELETE FROM "+table+" WHERE place = $1", place); err != nil {
				return err
			}
		}
		return nil
	})
}

// Sweep forgets what is old.
func (s *Store) Sweep(ctx context.Context, idle, old time.Time, most int) error {
	return s.inTurn(ctx, "sweep the page", func(tx *sql.Tx) error {
		if err := trimPlaces(ctx, tx, "place <> $1 AND used < $2", pagestate.Posts, instant(idle)); err != nil {
			return err
		}
		if err := trimPlaces(ctx, tx, "place <> $1 ORDER BY used DESC OFFSET $2", pagestate.Posts, most); err != nil {
			return err
		}
		return trimEntries(ctx, tx, "place = $1 AND under = '' AND made < $2", pagestate.Posts, instant(old))
	})
}

// listening is the name on which replicas tell each other what changed.
const listening = "firn"

// mostTold is how many changes of one transaction are told one by one.
const mostTold = 100

// notify tells changes when, and only if, the transaction is committed.
func notify(ctx context.Context, tx *sql.Tx, changes ...pagestate.Change) error {
	if len(changes) == 0 {
		return nil
	}
	if len(changes) > mostTold {
		changes = []pagestate.Change{{Kind: pagestate.All}}
	}
	texts := make([]string, len(changes))
	for i, c := range changes {
		texts[i] = c.String()
	}
	_, err := exec(ctx, tx, "SELECT pg_notify($1, told) FROM unnest($2::text[]) AS told", listening, texts)
	return err
}

// A connection that says nothing for a while may be none any more.
const (
	quiet   = 15 * time.Second
	answers = 5 * time.Second
)

// Follow tells what any process changes. It has a connection of its own.
func (s *Store) Follow(ctx context.Context, tell func(pagestate.Change)) error {
	if err := s.follow(ctx, tell); err != nil {
		return fmt.Errorf("follow changes: %w", redact(because(ctx, err), s.address.Password))
	}
	return nil
}

func (s *Store) follow(ctx context.Context, tell func(pagestate.Change)) error {
	address := s.address.Copy()
	address.RuntimeParams["application_name"] += " listens" // for whoever looks who is connected
	c, err := pgx.ConnectConfig(ctx, address)
	if err != nil {
		return err
	}
	defer func() {
		ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), time.Second)
		defer cancel()
		_ = c.Close(ctx) // it is lost, or nobody needs it any more
	}()
	if _, err := c.Exec(ctx, "LISTEN "+listening); err != nil {
		return err
	}
	tell(pagestate.Change{Kind: pagestate.All})
	for {
		n, err := heard(ctx, c)
		switch {
		case err == nil:
			tell(pagestate.Parse(n))
		case ctx.Err() != nil:
			return ctx.Err()
		case errors.Is(err, context.DeadlineExceeded) && !c.IsClosed():
			if err := alive(ctx, c); err != nil {
				return err
			}
		default:
			return err
		}
	}
}

// heard waits for what is told next.
func heard(ctx context.Context, c *pgx.Conn) (string, error) {
	ctx, cancel := context.WithTimeout(ctx, quiet)
	defer cancel()
	n, err := c.WaitForNotification(ctx)
	if err != nil {
		return "", err
	}
	return n.Payload, nil
}

func alive(ctx context.Context, c *pgx.Conn) error {
	ctx, cancel := context.WithTimeout(ctx, answers)
	defer cancel()
	return c.Ping(ctx)
}
