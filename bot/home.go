package bot

import (
	"context"
	"fmt"
	"strings"

	"firn/bot/parse"
	"firn/bot/record"
	"firn/bot/reply"
)

// mostHeld is how many live results are looked through for what concerns one
// person. Ours: a unit makes some hundred in the hours that they hold.
const mostHeld = 500

// Home is what concerns whoever wrote m, now: others' results that wait for
// their check, their own that are out of date, and the bases at or below their
// line. Who reads along sees nothing that was asked in a direct message. The
// error is the store's or the context's.
func (b *Bot) Home(ctx context.Context, m Message) (reply.Reply, error) {
	if b.ports.Book == nil && b.ports.Watcher == nil {
		return b.ask(notHere(parse.Mine)), nil
	}
	check, again, err := b.Waiting(ctx, m)
	if err != nil {
		return reply.Reply{}, fmt.Errorf("mine: %w", err)
	}
	var below []reply.MineItem
	if b.ports.Watcher != nil {
		all, err := b.ports.Watcher.Status(ctx, m.At)
		if err != nil {
			return reply.Reply{}, fmt.Errorf("mine: %w", err)
		}
		below = reply.BasesOf(all, b.Zone, m.At, m.Duty)
	}
	return reply.MineOf(check, again, below), nil
}

// Waiting are the results that whoever wrote m can check, and their own ones
// that are out of date, without the bases. The error is the store's or the
// context's.
func (b *Bot) Waiting(ctx context.Context, m Message) (check, again []reply.MineItem, err error) {
	book := b.ports.Book
	if book == nil {
		return nil, nil, nil
	}
	all, err := book.List(ctx, record.Query{For: b.readers(m), Live: true, Newest: true, Limit: mostHeld})
	if err != nil {
		return nil, nil, err
	}
	who := personOf(m)
	for _, r := range all {
		switch state := book.State(r); {
		case state == record.Recompute && book.Own(r, who):
			item := b.mineItem(r, strings.TrimSpace(record.Above(r, m.At, record.Settings{Zone: b.Zone})))
			for _, a := range book.Render(r).Actions {
				if a.ID == record.ActionRecompute {
					item.Actions = append(item.Actions, reply.Action{ID: a.ID, Label: a.Label, Message: a.Asks()})
				}
			}
			again = append(again, item)
		case state == record.Unchecked || state == record.Disagreed:
			if !b.mayCheck(r, who) {
				continue
			}
			said := fmt.Sprintf("By %s at %s, %s.", r.Asked, r.At.UTC().Format("15:04Z"), state.Word())
			item := b.mineItem(r, said)
			item.Actions = []reply.Action{{ID: record.ActionCheck, Label: "Check", Message: "check " + r.ID}}
			check = append(check, item)
		}
	}
	return check, again, nil
}

// mayCheck says that a person can check a result now, or enter its altitudes.
func (b *Bot) mayCheck(r record.Record, who record.Person) bool {
	would := b.ports.Book.Would(r, record.Action{Kind: record.KindChecked, By: who})
	return would.Done || len(would.Enter) > 0
}

// mineItem is a result in a line.
func (b *Bot) mineItem(r record.Record, said string) reply.MineItem {
	what := r.Station()
	switch {
	case len(r.Reply.Arrivals) > 0:
		what = "brief"
	case what == "":
		what = fmt.Sprintf("field at %.0f ft", r.Reply.Station.ElevationFt)
	}
	if name := r.Reply.ApproachName(); name != "" {
		what += " " + name
	}
	if len(r.Reply.Arrivals) == 0 {
		what += " " + reply.DegreesOf(r.Temperature()) + " °C"
	}
	return reply.MineItem{ID: r.ID, Text: r.ID + ": " + what + ". " + said}
}
