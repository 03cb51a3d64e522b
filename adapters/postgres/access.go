package postgres

import (
	"context"
	"database/sql"
	"fmt"
	"time"

	"firn/bot/access"
	"firn/bot/person"
)

var _ access.Store = (*Store)(nil)

// orNull is a time as it is kept where there may be none.
func orNull(t time.Time) sql.NullTime { return sql.NullTime{Time: instant(t), Valid: !t.IsZero()} }

func fromNull(n sql.NullTime) time.Time {
	if !n.Valid {
		return time.Time{}
	}
	return n.Time.UTC()
}

// inTurn does something in one transaction that writes.
func (s *Store) inTurn(ctx context.Context, what string, do func(tx *sql.Tx) error) error {
	tx, err := s.db.BeginTx(ctx, nil)
	if err != nil {
		return fmt.Errorf("%s: %w", what, because(ctx, err))
	}
	defer tx.Rollback()
	if err := do(tx); err != nil {
		return fmt.Errorf("%s: %w", what, because(ctx, err))
	}
	if err := tx.Commit(); err != nil {
		return fmt.Errorf("%s: %w", what, because(ctx, err))
	}
	return nil
}

// AddToken keeps a link where no good one has its name, however it is written.
func (s *Store) AddToken(ctx context.Context, t access.Token) (added bool, err error) {
	err = s.inTurn(ctx, "add link", func(tx *sql.Tx) error {
		// Two who add at once must see each other's.
		if _, err := exec(ctx, tx, "LOCK TABLE page_link IN SHARE ROW EXCLUSIVE MODE"); err != nil {
			return err
		}
		all, err := linksIn(ctx, tx)
		if err != nil {
			return err
		}
		for _, old := range all {
			if old.Good(t.Made) && person.Key(old.Name) == person.Key(t.Name) {
				return nil
			}
		}
		added = true
		_, err = exec(ctx, tx, `
			INSERT INTO page_link (name, hash, scope, made, ends, revoked, last_used) VALUES ($1, $2, $3, $4, $5, $6, $7)
			ON CONFLICT (name) DO UPDATE SET
				hash = excluded.hash, scope = excluded.scope, made = excluded.made, ends = excluded.ends,
				revoked = excluded.revoked, last_used = excluded.last_used`,
			t.Name, t.Hash[:], string(t.Scope), instant(t.Made), orNull(t.Ends), orNull(t.Revoked), orNull(t.LastUsed))
		return err
	})
	return added && err == nil, err
}

const linkColumns = "page_link.name, page_link.hash, page_link.scope, page_link.made, page_link.ends, page_link.revoked, page_link.last_used"

// scanner is a row.
type scanner interface{ Scan(into ...any) error }

func scanLink(row scanner, more ...any) (t access.Token, err error) {
	var hash []byte
	var ends, revoked, used sql.NullTime
	err = row.Scan(append([]any{&t.Name, &hash, (*string)(&t.Scope), moment{&t.Made}, &ends, &revoked, &used}, more...)...)
	copy(t.Hash[:], hash)
	t.Ends, t.Revoked, t.LastUsed = fromNull(ends), fromNull(revoked), fromNull(used)
	return t, err
}

// Tokens are all links by name.
func (s *Store) Tokens(ctx context.Context) ([]access.Token, error) {
	out, err := linksIn(ctx, s.db)
	if err != nil {
		return nil, fmt.Errorf("links: %w", because(ctx, err))
	}
	return out, nil
}

// many is a connection pool or a transaction.
type many interface {
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
}

func linksIn(ctx context.Context, from many) (out []access.Token, err error) {
	rows, err := from.QueryContext(ctx, "SELECT "+linkColumns+" FROM page_link ORDER BY name")
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	for rows.Next() {
		t, err := scanLink(rows)
		if err != nil {
			return nil, err
		}
		out = append(out, t)
	}
	return out, rows.Err()
}

// RevokeToken ends a link and its sessions.
func (s *Store) RevokeToken(ctx context.Context, name string, at time.Time) (revoked bool, err error) {
	err = s.inTurn(ctx, "revoke link", func(tx *sql.Tx) error {
		n, err := exec(ctx, tx, "UPDATE page_link SET revoked = $1 WHERE name = $2 AND revoked IS NULL", instant(at), name)
		if err != nil || n == 0 {
			return err
		}
		revoked = true
		_, err = exec(ctx, tx, "DELETE FROM page_session WHERE link = (SELECT hash FROM page_link WHERE name = $1)", name)
		return err
	})
	return revoked && err == nil, err
}

// RotateToken gives a link another secret and ends its sessions.
func (s *Store) RotateToken(ctx context.Context, name string, hash access.Hash, at, ends time.Time) (rotated bool, err error) {
	err = s.inTurn(ctx, "rotate link", func(tx *sql.Tx) error {
		if _, err := exec(ctx, tx, "DELETE FROM page_session WHERE link = (SELECT hash FROM page_link WHERE name = $1 AND revoked IS NULL)", name); err != nil {
			return err
		}
		n, err := exec(ctx, tx, "UPDATE page_link SET hash = $1, made = $2, ends = $3 WHERE name = $4 AND revoked IS NULL", hash[:], instant(at), orNull(ends), name)
		rotated = n > 0
		return err
	})
	return rotated && err == nil, err
}

// Sessions are the open ones of good links.
func (s *Store) Sessions(ctx context.Context, at, idle time.Time) (out []access.Open, err error) {
	rows, err := s.db.QueryContext(ctx, `
		SELECT page_link.name, page_session.made, page_session.used FROM page_session JOIN page_link ON page_link.hash = page_session.link
		WHERE page_session.used >= $1 AND page_link.revoked IS NULL AND (page_link.ends IS NULL OR page_link.ends > $2)
		ORDER BY page_link.name, page_session.used DESC, page_session.made DESC`, instant(idle), instant(at))
	if err != nil {
		return nil, fmt.Errorf("sessions: %w", because(ctx, err))
	}
	defer rows.Close()
	for rows.Next() {
		var o access.Open
		if err := rows.Scan(&o.Link, moment{&o.Made}, moment{&o.Used}); err != nil {
			return nil, fmt.Errorf("sessions: %w", because(ctx, err))
		}
		out = append(out, o)
	}
	if err := rows.Err(); err != nil {
		return nil, fmt.Errorf("sessions: %w", because(ctx, err))
	}
	return out, nil
}

// Enter begins a session by a link.
func (s *Store) Enter(ctx context.Context, token access.Hash, n access.Session, idle time.Time) (t access.Token, ok bool, err error) {
	err = s.inTurn(ctx, "enter", func(tx *sql.Tx) error {
		if _, err := exec(ctx, tx, "DELETE FROM page_session WHERE used < $1", instant(idle)); err != nil {
			return err
		}
		t, err = scanLink(tx.QueryRowContext(ctx, "UPDATE page_link SET last_used = $1 WHERE hash = $2 AND revoked IS NULL AND (ends IS NULL OR ends > $3) RETURNING name, hash, scope, made, ends, revoked, last_used", instant(n.Used), token[:], instant(n.Made)))
		if ok, err = found(err); err != nil || !ok {
			return err
		}
		_, err = exec(ctx, tx, "INSERT INTO page_session (hash, link, made, used) VALUES ($1, $2, $3, $4)", n.Hash[:], token[:], instant(n.Made), instant(n.Used))
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
	t, err = scanLink(s.db.QueryRowContext(ctx, `
		SELECT `+linkColumns+`, page_session.used FROM page_session JOIN page_link ON page_link.hash = page_session.link
		WHERE page_session.hash = $1 AND page_session.used >= $2 AND page_link.revoked IS NULL AND (page_link.ends IS NULL OR page_link.ends > $3)`, hash[:], instant(idle), instant(at)), moment{&used})
	if ok, err = found(err); err != nil || !ok {
		if err != nil {
			err = fmt.Errorf("session: %w", because(ctx, err))
		}
		return access.Token{}, false, err
	}
	if at.Sub(used) < access.UseStep {
		return t, true, nil
	}
	err = s.inTurn(ctx, "session", func(tx *sql.Tx) error {
		if _, err := exec(ctx, tx, "UPDATE page_session SET used = $1 WHERE hash = $2", instant(at), hash[:]); err != nil {
			return err
		}
		_, err := exec(ctx, tx, "UPDATE page_link SET last_used = $1 WHERE hash = $2", instant(at), t.Hash[:])
		return err
	})
	t.LastUsed = instant(at)
	return t, true, err
}

// Leave ends a session.
func (s *Store) Leave(ctx context.Context, hash access.Hash) error {
	_, err := s.one(ctx, "leave", "DELETE FROM page_session WHERE hash = $1", hash[:])
	return err
}
