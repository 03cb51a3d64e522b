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

// Thread is what a conversation's last message left.
func (t threads) Thread(ctx context.Context, surface, thread string) (string, bool, error) {
	if surface != string(config.OnPage) {
		return "", false, nil
	}
	e, found, err := t.Entry(ctx, pagestate.Thread(thread), lastAsked)
	return e.Body, found, err
}

// KeepThread keeps it.
func (t threads) KeepThread(ctx context.Context, surface, thread, text string, at time.Time) error {
	if surface != string(config.OnPage) {
		return nil
	}
	return t.Edit(ctx, pagestate.Thread(thread), lastAsked, at, func(e pagestate.Entry, _ bool) (pagestate.Entry, bool) {
		e.Made, e.Body = at, text
		return e, true
	})
}
