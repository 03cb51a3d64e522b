package pagestate

import (
	"context"
	"time"
)

// Store keeps what stands on the page. Safe for use by several goroutines and
// processes. Times come back in UTC, cut to the microsecond.
type Store interface {
	// Edit puts an entry into a place, or another in its place. change gets the
	// one that is there, and gives what shall be; with keep false nothing is
	// written. It must not call the store. Nobody else edits the place
	// meanwhile. What is too much for the place goes, the oldest first.
	Edit(ctx context.Context, place, id string, at time.Time, change func(e Entry, found bool) (is Entry, keep bool)) error
	// Since gives the entries of a place that were edited after a revision, in
	// the order in which they were made, and the place's revision; zero is
	// before everything.
	Since(ctx context.Context, place string, rev int64) (all []Entry, is int64, err error)
	Entry(ctx context.Context, place, id string) (e Entry, found bool, err error)
	File(ctx context.Context, place, id string, n int) (data []byte, found bool, err error)
	// Forget forgets a place.
	Forget(ctx context.Context, place string) error
	// Sweep forgets conversations that nobody used since idle, the others but the
	// most that were used last, and posts that are older than old.
	Sweep(ctx context.Context, idle, old time.Time, most int) error
}

// Feed tells what changes, by whichever process.
type Feed interface {
	// Follow tells each change after it happened, until the context ends or
	// the feed is lost, which the error says. It begins with All, when from
	// there on nothing is missed. tell must not wait for anything, and is called
	// by several goroutines.
	Follow(ctx context.Context, tell func(Change)) error
}
