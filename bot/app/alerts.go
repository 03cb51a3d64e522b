package app

import (
	"context"
	"slices"
	"time"

	"firn/bot/chat"
	"firn/bot/outbox"
	"firn/bot/reply"
)

// snoozedWithin is for changing the alerts that somebody has seen or snoozed,
// which the person does not wait for longer.
const snoozedWithin = 5 * time.Second

// edits says that posts to a channel can be changed.
func (a *App) edits(channel string) bool { return a.reached(channel) != nil }

// threads says that a post to a channel has a thread.
func (a *App) threads(channel string) bool {
	_, ok := a.reached(channel).(outbox.Threaded)
	return ok
}

// edit has a post show another reply.
func (a *App) edit(ctx context.Context, channel, ref string, r reply.Reply) error {
	on := a.reached(channel)
	if on == nil {
		return outbox.Permanent(notHere(outbox.Surface(channel)))
	}
	return on.Change(ctx, chat.Ref(ref), chat.Message{Reply: r})
}

// root is the reference of a post that was sent.
func (a *App) root(ctx context.Context, channel, key string) (ref string, err error) {
	posts, err := a.standing(ctx, key)
	if err != nil {
		return "", err
	}
	for _, p := range posts {
		if p.Key == key && p.Channel == channel {
			return p.Ref, nil
		}
	}
	return "", nil
}

// seen has the latest alert of a base's day say in each channel who has seen it:
// what is left to do with it is to snooze it.
func (a *App) seen(ctx context.Context, ident, day, text string) {
	a.noteOn(ctx, text, true, func(p outbox.Shown) bool { return p.Body.Alert != nil && p.Body.Alert.Ident == ident },
		"alert/"+ident+"/"+day+"/", "digest/"+day+"/")
}

// snoozed has the latest alert of a base's day say in each channel until when
// nobody is reminded. It is done once: the board and the front pages say it too.
func (a *App) snoozed(ctx context.Context, keys, text string) {
	a.noteOn(ctx, text, false, func(outbox.Shown) bool { return true }, keys)
}

// noteOn puts a note above the latest of some posts in each channel, without the
// button that says that somebody has seen it where that is so.
func (a *App) noteOn(ctx context.Context, text string, seen bool, of func(outbox.Shown) bool, prefixes ...string) {
	ctx, cancel := context.WithTimeout(ctx, snoozedWithin)
	defer cancel()
	posts, err := a.standing(ctx, prefixes...)
	if err != nil {
		a.log.WarnContext(ctx, "alerts to be changed not found", "keys", prefixes, "err", err)
		return
	}
	latest := map[string]outbox.Shown{}
	for _, p := range posts {
		if was, there := latest[p.Channel]; p.Under() == "" && of(p) && (!there || p.Made.After(was.Made)) {
			latest[p.Channel] = p
		}
	}
	isAck := func(act reply.Action) bool { return act.ID == "ack" }
	for channel, p := range latest {
		on := a.reached(channel)
		if on == nil {
			continue
		}
		if seen {
			if !slices.ContainsFunc(p.Body.Actions, isAck) {
				continue
			}
			p.Body.Actions = slices.DeleteFunc(slices.Clone(p.Body.Actions), isAck)
		}
		if err := on.Change(ctx, chat.Ref(p.Ref), chat.Message{Reply: p.Body, Note: text, Awaited: true}); err != nil {
			a.log.WarnContext(ctx, "alert does not say what was done", "key", p.Key, "channel", channel, "err", err)
		}
	}
}
