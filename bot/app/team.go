package app

import (
	"context"
	"slices"

	"firn/bot/outbox"
	"firn/bot/record"
	"firn/bot/reply"
)

// team posts results to the team's channels: those of the configuration, else
// where the alerts of the station go.
type team struct{ a *App }

// Channels are the addresses for a station.
func (t team) Channels(station string) []string {
	if own := t.a.cfg.Record.Team; len(own) > 0 {
		return texts(own)
	}
	st, ok := t.a.cfg.Station(station)
	if !ok || st.Watch == nil {
		return nil
	}
	return texts(st.Watch.Channels)
}

// postedResult begins the key of the post of a result.
const postedResult = "result/"

// Post puts a record into the outbox, once a channel for ever: its card there
// is kept as it stands.
func (t team) Post(ctx context.Context, r record.Record, channels []string) (fresh int, err error) {
	now := t.a.now()
	body := t.a.book.Render(r)
	body.Actions = slices.Clone(body.Actions)
	for i, act := range body.Actions {
		body.Actions[i].Message = act.Asks() // a button is pressed whenever
	}
	body.Actions = slices.DeleteFunc(body.Actions, func(act reply.Action) bool { return act.ID == reply.ActionPost })
	posts := make([]outbox.Item, len(channels))
	for i, c := range channels {
		posts[i] = outbox.Item{Key: postedResult + r.ID, Channel: c, Body: body, Made: now, Due: now}
	}
	if fresh, err = t.a.parts.Store.AddPosts(ctx, posts); err == nil {
		t.a.kick()
	}
	return fresh, err
}

// posted makes the post of a result one of its cards, before the post is
// marked as sent: whoever dies between the two finds it and does it again.
func (a *App) posted(ctx context.Context, p outbox.Item, ref string) error {
	name := outbox.Surface(p.Channel)
	if p.Body.Record == nil || a.surface(name) == nil {
		return nil
	}
	err := a.parts.Store.AddCards(ctx, []record.Mark{{Surface: name, Ref: ref, Record: p.Body.Record.ID}})
	if err == nil {
		a.book.Kick() // something may have happened to it meanwhile
	}
	return err
}
