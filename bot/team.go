package bot

import (
	"context"
	"fmt"
	"slices"

	"firn/bot/parse"
	"firn/bot/record"
	"firn/bot/reply"
)

// Team posts results where the team reads together.
type Team interface {
	// Channels are the addresses that a result of a station is posted to; none:
	// there is none for it.
	Channels(station string) []string
	// Post sees to it that a record is shown in each of these once. fresh is in
	// how many it was not shown, or about to be, before.
	Post(ctx context.Context, r record.Record, channels []string) (fresh int, err error)
}

// post answers "post": the result that the message names, or the last of its
// thread, is shown to the team.
func (b *Bot) post(ctx context.Context, req parse.Request, m Message) (reply.Reply, error) {
	if b.ports.Book == nil || b.ports.Team == nil {
		return b.ask(notHere(req.Verb)), nil
	}
	r, problem, err := b.meant(ctx, req, m)
	if err != nil {
		return reply.Reply{}, fmt.Errorf("post: %w", err)
	}
	if problem == nil {
		problem = b.unpostable(r)
	}
	if problem != nil {
		return b.ask(problem), nil
	}
	told := func(text string) reply.Reply {
		return reply.Reply{Kind: reply.KindNotice, Facts: []string{fmt.Sprintf(text, r.ID)}}
	}
	elsewhere := b.teamOf(r.Station(), r.Channel)
	if len(elsewhere) == 0 {
		return told("%s stands in the team channel already."), nil
	}
	fresh, err := b.ports.Team.Post(ctx, r, elsewhere)
	if err == nil && r.Private() {
		// Not before the outbox has it: what it did not take the team has not seen.
		_, _, err = b.ports.Book.Do(ctx, r.ID, record.Action{Kind: record.KindPosted, By: personOf(m)})
	}
	switch {
	case err != nil:
		return reply.Reply{}, fmt.Errorf("post: %w", err)
	case fresh == 0:
		return told("%s was posted to the team channel before; its card there shows how it stands now."), nil
	}
	return told("%s goes to the team channel; a check there counts as here."), nil
}

// unpostable says why a record is not posted.
func (b *Bot) unpostable(r record.Record) *parse.Problem {
	switch state := b.ports.Book.State(r); {
	case state == record.Replaced && r.Replaced.By != "":
		return &parse.Problem{Word: r.ID, Text: fmt.Sprintf("%s was replaced by %s; post that one.", r.ID, r.Replaced.By), Try: "post " + r.Replaced.By}
	case state == record.Replaced, state == record.Expired:
		return &parse.Problem{Word: r.ID, Text: fmt.Sprintf("%s does not hold any more; compute it again.", r.ID), Try: "recompute " + r.ID}
	case len(b.ports.Team.Channels(r.Station())) == 0:
		return &parse.Problem{Word: "post", Text: fmt.Sprintf("The configuration names no team channel for %s: neither its watch nor team_channels under record does.", r.ID), Try: "log " + r.ID}
	}
	return nil
}

// teamOf are a station's team channels but the one where it was asked.
func (b *Bot) teamOf(station, asked string) []string {
	return slices.DeleteFunc(slices.Clone(b.ports.Team.Channels(station)), func(c string) bool { return c == asked })
}

// offerPost adds the button that posts a result.
func (b *Bot) offerPost(made *record.Result) {
	if b.ports.Team == nil || len(made.Numbers) == 0 || len(b.teamOf(made.Station(), made.Channel)) == 0 {
		return
	}
	made.Reply.Actions = append(slices.Clip(made.Reply.Actions), reply.Action{ID: reply.ActionPost, Label: "Post to the team", Message: "post"})
}
