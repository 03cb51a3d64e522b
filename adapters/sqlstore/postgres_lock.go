package sqlstore

import (
	"context"
	"database/sql"
	"database/sql/driver"
)

// Alone takes the advisory lock of a name (PostgreSQL, 13.3.5), which ends with
// unlock or with its connection: a replica that dies holds nothing up, as a
// lease would for its length. held is false when another has it.
//
// The lock is the session's, so that a pooler between firn and the database
// must keep sessions.
func (s *Postgres) Alone(ctx context.Context, name string) (unlock func(context.Context) error, held bool, err error) {
	conn, err := s.reader.Conn(ctx)
	if err != nil {
		return nil, false, wrap(ctx, "lock "+name, err)
	}
	// Installations in several schemas of one database do not meet.
	const key = "hashtextextended(current_schema() || '/firn/' || $1, 0)"
	if err := conn.QueryRowContext(ctx, "SELECT pg_try_advisory_lock("+key+")", name).Scan(&held); err != nil {
		discard(conn)
		return nil, false, wrap(ctx, "lock "+name, err)
	}
	if !held {
		return nil, false, conn.Close()
	}
	return func(ctx context.Context) error {
		var had bool
		err := conn.QueryRowContext(ctx, "SELECT pg_advisory_unlock("+key+")", name).Scan(&had)
		if err != nil {
			discard(conn) // and the lock with it
			return wrap(ctx, "unlock "+name, err)
		}
		return conn.Close()
	}, true, nil
}

// discard ends a connection, which must not go back to the pool with a lock.
func discard(conn *sql.Conn) {
	_ = conn.Raw(func(any) error { return driver.ErrBadConn })
	_ = conn.Close()
}
