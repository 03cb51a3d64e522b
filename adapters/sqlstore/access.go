package sqlstore

import (
	"context"
	"time"

	"firn/bot/access"
	"firn/bot/pagestate"
	"firn/bot/person"
)

var _ access.Store = (*Store)(nil)

const linkColumns = "page_link.name, page_link.hash, page_link.scope, page_link.made, page_link.ends, page_link.revoked, page_link.last_used"

// scanLink scans those columns, and more behind them.
func scanLink(row scanner, t *access.Token, more ...any) error {
	var hash []byte
	err := row.Scan(append([]any{&t.Name, &hash, (*string)(&t.Scope), scanTime{&t.Made}, scanTime{&t.Ends}, scanTime{&t.Revoked}, scanTime{&t.LastUsed}}, more...)...)
	copy(t.Hash[:], hash)
	return err
}

// AddToken keeps a link where no good one has its name, however it is written.
func (s *Store) AddToken(ctx context.Context, t access.Token) (added bool, err error) {
	err = s.write(ctx, "add link", func(ctx context.Context, x *tx) error {
		// Two who add at once must see each other's.
		if err := x.lock(ctx, s.sql.lockLinks); err != nil {
			return err
		}
		all, err := links(ctx, x)
		if err != nil {
			return err
		}
		for _, old := range all {
			if old.Good(t.Made) && person.Key(old.Name) == person.Key(t.Name) {
				return nil
			}
		}
		added = true
		_, err = exec(ctx, x, `
			INSERT INTO page_link (name, hash, scope, made, ends, revoked, last_used) VALUES ($1, $2, $3, $4, $5, $6, $7)
			ON CONFLICT (name) DO UPDATE SET
				hash = excluded.hash, scope = excluded.scope, made = excluded.made, ends = excluded.ends,
				revoked = excluded.revoked, last_used = excluded.last_used`,
			t.Name, t.Hash[:], string(t.Scope), t.Made, orNull(t.Ends), orNull(t.Revoked), orNull(t.LastUsed))
		return err
	})
	return added && err == nil, err
}

// Tokens are all links by name.
func (s *Store) Tokens(ctx context.Context) ([]access.Token, error) {
	all, err := links(ctx, s.reader)
	return all, wrap(ctx, "links", err)
}

func links(ctx context.Context, on conn) ([]access.Token, error) {
	return list(ctx, on, func(row scanner, t *access.Token) error { return scanLink(row, t) }, "SELECT "+linkColumns+" FROM page_link ORDER BY name")
}

// RevokeToken ends a link and its sessions.
func (s *Store) RevokeToken(ctx context.Context, name string, at time.Time) (revoked bool, err error) {
	err = s.write(ctx, "revoke link", func(ctx context.Context, x *tx) error {
		n, err := exec(ctx, x, "UPDATE page_link SET revoked = $1 WHERE name = $2 AND revoked IS NULL", at, name)
		if err != nil || n == 0 {
			return err
		}
		revoked = true
		x.changed(pagestate.Change{Kind: pagestate.Access})
		_, err = exec(ctx, x, "DELETE FROM page_session WHERE link = (SELECT hash FROM page_link WHERE name = $1)", name)
		return err
	})
	return revoked && err == nil, err
}

// RotateToken gives a link another secret and ends its sessions.
func (s *Store) RotateToken(ctx context.Context, name string, hash access.Hash, at, ends time.Time) (rotated bool, err error) {
	err = s.write(ctx, "rotate link", func(ctx context.Context, x *tx) error {
		if _, err := exec(ctx, x, "DELETE FROM page_session WHERE link = (SELECT hash FROM page_link WHERE name = $1 AND revoked IS NULL)", name); err != nil {
			return err
		}
		n, err := exec(ctx, x, "UPDATE page_link SET hash = $1, made = $2, ends = $3 WHERE name = $4 AND revoked IS NULL", hash[:], at, orNull(ends), name)
		if rotated = n > 0; rotated {
			x.changed(pagestate.Change{Kind: pagestate.Access})
		}
		return err
	})
	return rotated && err == nil, err
}

// Sessions are the open ones of good links.
func (s *Store) Sessions(ctx context.Context, at, idle time.Time) ([]access.Open, error) {
	all, err := list(ctx, s.reader, func(row scanner, o *access.Open) error {
		return row.Scan(&o.Link, scanTime{&o.Made}, scanTime{&o.Used})
	}, `
		SELECT page_link.name, page_session.made, page_session.used FROM page_session JOIN page_link ON page_link.hash = page_session.link
		WHERE page_session.used >= $1 AND page_link.revoked IS NULL AND (page_link.ends IS NULL OR page_link.ends > $2)
		ORDER BY page_link.name, page_session.used DESC, page_session.made DESC`, idle, at)
	return all, wrap(ctx, "sessions", err)
}

// Enter begins a session by a link.
func (s *Store) Enter(ctx context.Context, token access.Hash, n access.Session, idle time.Time) (t access.Token, ok bool, err error) {
	err = s.write(ctx, "enter", func(ctx context.Context, x *tx) (err error) {
		if _, err := exec(ctx, x, "DELETE FROM page_session WHERE used < $1", idle); err != nil {
			return err
		}
		ok, err = found(scanLink(x.QueryRowContext(ctx, `
			UPDATE page_link SET last_used = $1 WHERE hash = $2 AND revoked IS NULL AND (ends IS NULL OR ends > $3)
			RETURNING name, hash, scope, made, ends, revoked, last_used`, n.Used, token[:], n.Made), &t))
		if err != nil || !ok {
			return err
		}
		_, err = exec(ctx, x, "INSERT INTO page_session (hash, link, made, used) VALUES ($1, $2, $3, $4)", n.Hash[:], token[:], n.Made, n.Used)
		return err
	})
	if err != nil || !ok {
		return access.Token{}, false, err
	}
	return t, true, nil
}

// Session finds the link of a session.
func (s *Store) Session(ctx context.Context, hash access.Hash, at, idle time.Time) (t access.Token, ok bool, err error) {
	var used time.Time
	ok, err = found(scanLink(s.reader.QueryRowContext(ctx, `
		SELECT `+linkColumns+`, page_session.used FROM page_session JOIN page_link ON page_link.hash = page_session.link
		WHERE page_session.hash = $1 AND page_session.used >= $2 AND page_link.revoked IS NULL AND (page_link.ends IS NULL OR page_link.ends > $3)`,
		hash[:], idle, at), &t, scanTime{&used}))
	if err != nil || !ok {
		return access.Token{}, false, wrap(ctx, "session", err)
	}
	if at.Sub(used) < access.UseStep {
		return t, true, nil
	}
	err = s.write(ctx, "session", func(ctx context.Context, x *tx) error {
		if _, err := exec(ctx, x, "UPDATE page_session SET used = $1 WHERE hash = $2", at, hash[:]); err != nil {
			return err
		}
		_, err := exec(ctx, x, "UPDATE page_link SET last_used = $1 WHERE hash = $2", at, t.Hash[:])
		return err
	})
	t.LastUsed = instant(at)
	return t, true, err
}

// Leave ends a session.
func (s *Store) Leave(ctx context.Context, hash access.Hash) error {
	return s.write(ctx, "leave", func(ctx context.Context, x *tx) error {
		n, err := exec(ctx, x, "DELETE FROM page_session WHERE hash = $1", hash[:])
		if n > 0 {
			x.changed(pagestate.Change{Kind: pagestate.Access})
		}
		return err
	})
}
