package access

import (
	"context"
	"time"
)

// Store keeps links and sessions. Safe for use by several goroutines and
// processes. Times come back in UTC, cut to the microsecond.
type Store interface {
	// AddToken keeps a link. added is false, and nothing is written, when one
	// that is good at the time it was made has its name, or one that is the same
	// by person.Key; one that was revoked or has ended makes room.
	AddToken(ctx context.Context, t Token) (added bool, err error)
	// Tokens are all links by name, the revoked ones too.
	Tokens(ctx context.Context) ([]Token, error)
	// RevokeToken ends a link and the sessions that came in by it; found is
	// false when no good one has the name.
	RevokeToken(ctx context.Context, name string, at time.Time) (found bool, err error)
	// RotateToken gives a link that was not revoked another secret and end, and
	// ends the sessions that came in by the old one; found is false when there is
	// none.
	RotateToken(ctx context.Context, name string, hash Hash, at, ends time.Time) (found bool, err error)
	// Sessions are those of good links that were used since idle, by link and
	// the latest use first.
	Sessions(ctx context.Context, at, idle time.Time) ([]Open, error)

	// Enter begins a session by a link's hash; ok is false when no link that is
	// good when the session is made has it. Sessions that nobody used since idle end.
	Enter(ctx context.Context, token Hash, s Session, idle time.Time) (t Token, ok bool, err error)
	// Session finds the link, good at a time, of a session that was used since
	// idle, and marks both as used then, to the minute. An error beside ok is of marking
	// that: a full disk keeps nobody out.
	Session(ctx context.Context, hash Hash, at, idle time.Time) (t Token, ok bool, err error)
	// Leave ends a session.
	Leave(ctx context.Context, hash Hash) error
}

// UseStep is how exactly a use is kept: a page that is looked at all day must
// not write all day.
const UseStep = time.Minute
