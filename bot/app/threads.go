package app

import (
	"context"
	"time"

	"firn/bot/config"
	"firn/bot/pagestate"
)

// threads keep what a follow-up on the page is read with: the next form may
// come to another replica. The chat services' threads stay with the process
// that answers there, as an answer must not wait for the database.
type threads struct{ pagestate.Store }

// lastAsked is the one entry of a thread's place.
const lastAsked = "last"

// Keeps says that only the page's are kept.
func (threads) Keeps(surface string) bool { return surface == string(config.OnPage) }

// Thread is what a conversation's last message left.
func (t threads) Thread(ctx context.Context, _, thread string) (string, bool, error) {
	e, found, err := t.Entry(ctx, pagestate.Thread(thread), lastAsked)
	return e.Body, found, err
}

// KeepThread keeps it.
func (t threads) KeepThread(ctx context.Context, _, thread, text string, at time.Time) error {
	return t.Edit(ctx, pagestate.Thread(thread), lastAsked, at, func(e pagestate.Entry, _ bool) (pagestate.Entry, bool) {
		e.Made, e.Body = at, text
		return e, true
	})
}
