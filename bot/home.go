package bot

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"firn/bot/parse"
	"firn/bot/record"
	"firn/bot/reply"
)

// mostHeld is how many live results are looked through for what concerns people,
// and how many older ones of each person. Ours: a unit makes some hundred in the
// hours that they hold.
const mostHeld = 500

// Home is what concerns whoever wrote m, now. The error is the store's or the
// context's.
func (b *Bot) Home(ctx context.Context, m Message) (reply.Reply, error) {
	of, err := b.Homes(ctx, m.At)
	if err != nil {
		return reply.Reply{}, err
	}
	return of(ctx, m)
}

// HomeOf is what concerns whoever wrote a message, of what was read for all; the
// person's own results are read where there were too many. The error is the store's
// or the context's.
type HomeOf func(ctx context.Context, m Message) (reply.Reply, error)

// Homes reads once what concerns people now; of is then what concerns whoever
// wrote a message: others' results that wait for their check, their own that are
// out of date or that somebody disagrees with, and the bases at or below their line. Who reads along sees nothing
// that was asked in a direct message. The error is the store's or the context's.
func (b *Bot) Homes(ctx context.Context, at time.Time) (of HomeOf, err error) {
	if b.ports.Book == nil && b.ports.Watcher == nil {
		return func(context.Context, Message) (reply.Reply, error) { return b.ask(notHere(parse.Mine)), nil }, nil
	}
	all, err := b.liveResults(ctx)
	if err != nil {
		return nil, fmt.Errorf("mine: %w", err)
	}
	var bases []reply.Cold
	if b.ports.Watcher != nil {
		if bases, err = b.bases(ctx, at); err != nil {
			return nil, fmt.Errorf("mine: %w", err)
		}
	}
	return func(ctx context.Context, m Message) (reply.Reply, error) {
		check, again, err := b.waiting(ctx, all, m)
		return reply.MineOf(check, again, reply.BasesOf(bases, b.Zone, at, m.Duty)), err
	}, nil
}

// Waiting is Homes without the bases: the results that whoever wrote a message can
// check, and their own ones that are to be computed again.
func (b *Bot) Waiting(ctx context.Context) (of HomeOf, err error) {
	all, err := b.liveResults(ctx)
	if err != nil {
		return nil, fmt.Errorf("mine: %w", err)
	}
	return func(ctx context.Context, m Message) (reply.Reply, error) {
		check, again, err := b.waiting(ctx, all, m)
		return reply.MineOf(check, again, nil), err
	}, nil
}

// liveResults are the latest results that hold, everybody's.
func (b *Bot) liveResults(ctx context.Context) ([]record.Record, error) {
	if b.ports.Book == nil {
		return nil, nil
	}
	return b.ports.Book.List(ctx, record.Query{Live: true, Newest: true, Limit: mostHeld})
}

// older are a person's own results that hold and came before the latest of all.
func (b *Bot) older(ctx context.Context, latest []record.Record, who record.Person) ([]record.Record, error) {
	if len(latest) < mostHeld {
		return nil, nil
	}
	own, err := b.ports.Book.List(ctx, record.Query{
		Live: true, Newest: true, Limit: mostHeld, By: b.ports.Book.Viewer(who).Accounts, To: latest[len(latest)-1].At.Add(time.Microsecond),
	})
	if err != nil {
		return nil, fmt.Errorf("mine: %w", err)
	}
	return slices.DeleteFunc(own, func(r record.Record) bool {
		return slices.ContainsFunc(latest, func(l record.Record) bool { return l.ID == r.ID })
	}), nil
}

// waiting are those of results that wait for whoever wrote m, as far as they may
// see them; all are the latest.
func (b *Bot) waiting(ctx context.Context, all []record.Record, m Message) (check, again []reply.MineItem, err error) {
	if len(all) == 0 {
		return nil, nil, nil
	}
	book, who, reads := b.ports.Book, personOf(m), b.readers(m)
	own, err := b.older(ctx, all, who)
	if err != nil {
		return nil, nil, err
	}
	for _, r := range append(all[:len(all):len(all)], own...) {
		switch state := book.State(r); {
		case !reads.Sees(r):
		case (state == record.Recompute || state == record.Disagreed) && book.Own(r, who):
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
	return reply.MineItem{ID: r.ID, Text: r.Reply.Topic() + ". " + said}
}
