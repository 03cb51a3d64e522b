package app

import (
	"context"
	"slices"
	"strings"
	"time"

	"firn/bot/chat"
	"firn/bot/config"
	"firn/bot/outbox"
	"firn/bot/reply"
	"firn/bot/watch"
)

// retireSince is how old an alert may be whose buttons somebody may still
// press: a day is acknowledged while it goes on.
const retireSince = 2 * 24 * time.Hour

// retire takes the buttons from the alerts of bases that are not watched any
// more, and has them say so. It is asked each minute until all is done, and
// does each alert once.
func (a *App) retire(ctx context.Context) {
	if a.retired.Load() {
		return
	}
	posts, err := a.standing(ctx, "alert/", "digest/")
	if err != nil {
		a.log.WarnContext(ctx, "alerts of bases that are gone not looked for", "err", err)
		return
	}
	a.retired.Store(true)
	for _, p := range posts {
		idents := identsOf(p)
		if len(idents) == 0 || slices.ContainsFunc(idents, a.isWatched) || a.changes(p) {
			continue
		}
		ident := strings.Join(idents, ", ")
		if err := a.retireOne(ctx, ident, p); err != nil {
			if !outbox.IsPermanent(err) {
				a.retired.Store(false)
			}
			a.log.WarnContext(ctx, "alert of a base that is gone not changed", "key", p.Key, "channel", p.Channel, "err", err)
		}
	}
}

// identsOf are the bases that a post is about.
func identsOf(p outbox.Shown) (out []string) {
	if ident, ok := strings.CutPrefix(p.Key, "alert/"); ok {
		ident, _, _ = strings.Cut(ident, "/")
		return []string{ident}
	}
	if p.Body.Alert != nil {
		return []string{p.Body.Alert.Ident}
	}
	for _, b := range p.Body.Bases {
		out = append(out, b.Ident)
	}
	return out
}

func (a *App) isWatched(ident string) bool {
	st, ok := a.cfg.Station(ident)
	return ok && st.Watch != nil
}

// changes says that the watch itself keeps a post as things stand: a morning's,
// in a channel that bases are still told in.
func (a *App) changes(p outbox.Shown) bool {
	d := p.Body.Digest
	return d != nil && d.Word == reply.DigestMorning && slices.ContainsFunc(a.watch.Next(a.now()), func(m watch.Morning) bool {
		return slices.ContainsFunc(m.Channels, func(c config.Address) bool { return c.String() == p.Channel })
	})
}

func (a *App) retireOne(ctx context.Context, ident string, p outbox.Shown) error {
	on := a.reached(p.Channel)
	if on == nil || len(p.Body.Actions) == 0 {
		return nil // where nothing can be changed there are no buttons either
	}
	name := "retired/" + p.Key + "/" + p.Channel
	if first, err := a.parts.Store.Lease(ctx, name, a.parts.Holder, 2*retireSince); err != nil || !first {
		return err // another start has done it
	}
	body := p.Body
	body.Actions = nil
	err := on.Change(ctx, chat.Ref(p.Ref), chat.Message{Reply: body, Note: ident + " is not watched any more."})
	if err == nil {
		a.log.InfoContext(ctx, "alert of a base that is gone has no buttons any more", "key", p.Key, "channel", p.Channel)
		return nil
	}
	if !outbox.IsPermanent(err) {
		if freed := a.parts.Store.Release(context.WithoutCancel(ctx), name, a.parts.Holder); freed != nil {
			a.log.WarnContext(ctx, "lease not given back", "name", name, "err", freed)
		}
	}
	return err
}
