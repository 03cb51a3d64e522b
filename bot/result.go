package bot

import (
	"context"
	"time"

	"firn/bot/reply"
)

// Result is an answer that was given: who asked what, from where, and the
// reply with its figures, rule set and sources.
type Result struct {
	ID      string // the surface's message id, or made by the bot; unique with Surface
	Surface string
	Thread  string
	User    string
	Text    string
	At      time.Time
	Reply   reply.Reply
}

// Results keeps results. Saving the same surface and ID again changes nothing.
type Results interface {
	SaveResult(ctx context.Context, r Result) (fresh bool, err error)
	// SaveResults saves several in one transaction: all of them or, with an
	// error, none. fresh is how many were not there.
	SaveResults(ctx context.Context, all []Result) (fresh int, err error)
}
