package sqlstore

import (
	"context"
	"strconv"
	"strings"
	"time"

	"firn/bot/chat"
	"firn/bot/watch"
)

// Lease takes a name for a while, or longer.
func (s *Store) Lease(ctx context.Context, name, holder string, d time.Duration) (held bool, err error) {
	// The time is read again where the row was waited for.
	return s.one(ctx, "lease", `
		INSERT INTO lease (name, holder, until) VALUES ($1, $2, `+s.sql.later("$3")+`)
		ON CONFLICT (name) DO UPDATE SET holder = excluded.holder, until = `+s.sql.later("$3")+`
		WHERE lease.holder = excluded.holder OR lease.until <= `+s.sql.now,
		name, holder, d.Microseconds())
}

// Release gives a name back, if holder has it.
func (s *Store) Release(ctx context.Context, name, holder string) error {
	_, err := s.one(ctx, "release", "DELETE FROM lease WHERE name = $1 AND holder = $2", name, holder)
	return err
}

// Held are those of the names that somebody has, or had last.
func (s *Store) Held(ctx context.Context, names ...string) ([]watch.Held, error) {
	if len(names) == 0 {
		return nil, nil
	}
	these, args := these(names)
	if err := keepable(args); err != nil {
		return nil, wrap(ctx, "read leases", err)
	}
	all, err := list(ctx, s.reader, func(row scanner, h *watch.Held) error {
		var until, now time.Time
		err := row.Scan(&h.Name, &h.Holder, scanTime{&until}, scanTime{&now})
		h.Left = until.Sub(now)
		return err
	}, "SELECT name, holder, until, "+s.sql.now+" FROM lease WHERE name IN ("+these+") ORDER BY name", args...)
	return all, wrap(ctx, "read leases", err)
}

// unserved ends what a copy says of processes that serve from it: they serve from
// the store that it was made of. What else was taken stays so, or it would be done
// twice.
func (w words) unserved(ctx context.Context, on conn) error {
	these, args := these(append(chat.PlaceNames(), chat.ReadNames()...))
	_, err := exec(ctx, on, "UPDATE lease SET until = "+w.now+" WHERE until > "+w.now+" AND name IN ("+these+")", args...)
	return err
}

// these are names as a statement's parameters.
func these(names []string) (text string, args []any) {
	all := make([]string, len(names))
	for i, name := range names {
		all[i], args = "$"+strconv.Itoa(i+1), append(args, name)
	}
	return strings.Join(all, ", "), args
}

// Restored notes that the store was put back from a copy just now: for
// outbox.RestoredWindow every post is looked up before it is sent.
func (s *Store) Restored(ctx context.Context) error {
	_, err := s.one(ctx, "note the restore", s.sql.restored())
	return err
}

// restored notes it, wherever that is seen; a condition may follow.
func (w words) restored() string { return "UPDATE instance SET restored = " + w.now }

// marked gives the instance a mark; changed says that it had another.
func marked(ctx context.Context, on conn, mark string) (changed bool, err error) {
	n, err := exec(ctx, on, "UPDATE instance SET mark = $1 WHERE mark <> $1", mark)
	return n > 0, err
}
