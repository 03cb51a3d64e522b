package app

import (
	"context"
	"strings"
	"time"

	"firn/bot/chat"
	"firn/bot/outbox"
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
	posts, err := a.parts.Store.Standing(ctx, "alert/", a.now().Add(-retireSince))
	if err != nil {
		a.log.WarnContext(ctx, "alerts of bases that are gone not looked for", "err", err)
		return
	}
	a.retired.Store(true)
	for _, p := range posts {
		ident, _, _ := strings.Cut(strings.TrimPrefix(p.Key, "alert/"), "/")
		if st, ok := a.cfg.Station(ident); ok && st.Watch != nil {
			continue
		}
		if err := a.retireOne(ctx, ident, p); err != nil {
			if !outbox.IsPermanent(err) {
				a.retired.Store(false)
			}
			a.log.WarnContext(ctx, "alert of a base that is gone not changed", "key", p.Key, "channel", p.Channel, "err", err)
		}
	}
}

func (a *App) retireOne(ctx context.Context, ident string, p outbox.Shown) error {
	on, err := cards{a}.on(outbox.Surface(p.Channel))
	if err != nil || len(p.Body.Actions) == 0 {
		return nil // where nothing can be changed there are no buttons either
	}
	name := "retired/" + p.Key + "/" + p.Channel
	if first, err := a.parts.Store.Lease(ctx, name, a.parts.Holder, 2*retireSince); err != nil || !first {
		return err // another start has done it
	}
	body := p.Body
	body.Actions = nil
	err = on.Change(ctx, chat.Ref(p.Ref), chat.Message{Reply: body, Note: ident + " is not watched any more."})
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
