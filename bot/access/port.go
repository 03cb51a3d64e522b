package access

import (
	"context"
	"time"
)

// Store keeps links and sessions. Safe for use by several goroutines and
// processes. Times come back in UTC, cut to the microsecond.
type Store interface {
	// AddToken keeps a link. added is false, and nothing is written, when a
	// good one has its name; a revoked one makes room.
	AddToken(ctx context.Context, t Token) (added bool, err error)
	// Tokens are all links by name, the revoked ones too.
	Tokens(ctx context.Context) ([]Token, error)
	// RevokeToken ends a link and the sessions that came in by it; found is
	// false when no good one has the name.
	RevokeToken(ctx context.Context, name string, at time.Time) (found bool, err error)

	// Enter begins a session by a link's hash; ok is false when no good link
	// has it. Sessions that nobody used since idle end.
	Enter(ctx context.Context, token Hash, s Session, idle time.Time) (t Token, ok bool, err error)
	// Session finds the link of a session that was used since idle, and marks
	// both as used at a time, to the minute. An error beside ok is of marking
	// that: a full disk keeps nobody out.
	Session(ctx context.Context, hash Hash, at, idle time.Time) (t Token, ok bool, err error)
	// Leave ends a session.
	Leave(ctx context.Context, hash Hash) error
}

// UseStep is how exactly a use is kept: a page that is looked at all day must
// not write all day.
const UseStep = time.Minute
