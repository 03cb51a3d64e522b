package app

import (
	"context"
	"time"

	"firn/bot/chat"
	"firn/bot/outbox"
)

// snoozedWithin is for changing the alerts that a snooze is about, which the
// person who asked for it does not wait for longer.
const snoozedWithin = 5 * time.Second

// snoozed has the latest alert of a base's day say in each channel until when
// nobody is reminded. It is done once: the board and the front pages say it too.
func (a *App) snoozed(ctx context.Context, keys, text string) {
	ctx, cancel := context.WithTimeout(ctx, snoozedWithin)
	defer cancel()
	posts, err := a.parts.Store.Standing(ctx, keys, a.now().Add(-retireSince))
	if err != nil {
		a.log.WarnContext(ctx, "alerts that are snoozed not found", "keys", keys, "err", err)
		return
	}
	latest := map[string]outbox.Shown{}
	for _, p := range posts {
		if was, there := latest[p.Channel]; !there || p.Made.After(was.Made) {
			latest[p.Channel] = p
		}
	}
	for channel, p := range latest {
		on, err := cards{a}.on(outbox.Surface(channel))
		if err != nil {
			continue // nothing can be changed there
		}
		if err := on.Change(ctx, chat.Ref(p.Ref), chat.Message{Reply: p.Body, Note: text}); err != nil {
			a.log.WarnContext(ctx, "alert does not say that it is snoozed", "key", p.Key, "channel", channel, "err", err)
		}
	}
}
