package chat_test

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"testing"

	"firn/bot"
	"firn/bot/chat"
	"firn/bot/present"
	"firn/bot/reply"
)

// unfolding is a surface with More.
type unfolding struct{ *surface }

func (s unfolding) Unfold(ctx context.Context, e chat.Event, p chat.Part) error {
	line := e.Person.ID + " alone: " + p.Title + ":"
	for _, b := range p.Blocks { // a block in short
		switch b := b.(type) {
		case present.Headline:
			line += " # " + b.Text
		case present.List:
			line += fmt.Sprintf(" %s%q", b.Title, b.Lines)
		default:
			line += fmt.Sprintf(" %T", b)
		}
	}
	for _, pic := range p.Pictures {
		line += " [" + pic.Alt + "]"
	}
	return s.call(ctx, "unfold", line)
}

// TestUnfolded: what lies behind More is shown to one person, and only a new
// card stands for all.
func TestUnfolded(t *testing.T) {
	kept := reply.Reply{
		Kind: reply.KindCorrection, Station: reply.Station{Ident: "XKLD", Known: true}, TemperatureC: reply.Some(-38), Headline: "XKLD, −38 °C: correct",
		Cautions: []reply.Caution{{Code: "x", Text: "Mind it."}},
		Record:   &reply.RecordStatus{ID: "KALOMI-RUTA", State: "unchecked", Lines: []string{"Computed by Anna."}},
		Actions: []reply.Action{
			{ID: "why", Label: "Show the working", Message: "why", Whole: "why XKLD -38 8200"},
			{ID: "picture", Label: "Picture", Message: "picture", Whole: "picture XKLD -38 8200"},
			{ID: "recompute", Label: "Recompute", Message: "recompute KALOMI-RUTA"},
			{ID: "check", Label: "Check", Message: "check", Whole: "check KALOMI-RUTA"},
		},
	}
	worked := reply.Reply{Kind: reply.KindCorrection, Headline: "XKLD, −38 °C: correct", TemperatureC: reply.Some(-38), Working: []reply.Working{{PublishedFt: 8200}}}
	for _, c := range []struct {
		name, entry, text string
		card              chat.Ref
		asked             []string
		did               string
	}{
		{"a fold", "cautions", "", "C1/1", nil, `unfold U1 alone: Cautions: Cautions["Mind it."]`},
		{"two at once", "cautions+picture", "", "C1/1", []string{"picture XKLD -38 8200"}, `unfold U1 alone: Cautions, Picture: Cautions["Mind it."] # Drawn [a profile]`},
		{"all", "all", "", "C1/1", nil, `unfold U1 alone: : # XKLD, −38 °C: correct present.Line present.State Cautions["Mind it."] Record KALOMI-RUTA["Computed by Anna."]`},
		{"the record", "record", "", "C1/1", nil, `unfold U1 alone: Record: Record KALOMI-RUTA["Computed by Anna."]`},
		{"the working", "working", "", "C1/1", []string{"why XKLD -38 8200"}, "unfold U1 alone: Working: present.Steps"},
		{"the picture", "picture", "", "C1/1", []string{"picture XKLD -38 8200"}, "unfold U1 alone: Picture: # Drawn [a profile]"},
		{"again", "again", "", "C1/1", []string{"recompute KALOMI-RUTA"}, "follow C1/1: Version 2."},
		{"a card that is not kept is asked for again", "working", "why XKLD -38 8200", "C1/2", []string{"why XKLD -38 8200"}, "unfold U1 alone: : present.Steps"},
		{"a part that the new one has not", "expected", "why XKLD -38 8200", "C1/2", []string{"why XKLD -38 8200"}, "unfold U1 alone: : # XKLD, −38 °C: correct present.Steps"},
		{"nothing asks for it again", "cautions", "", "C1/2", nil, "whisper U1: ! What stood there is not kept; ask again for it."},
	} {
		t.Run(c.name, func(t *testing.T) {
			o := newOffice(t, chat.Settings{
				On: func(_ context.Context, surface string, ref chat.Ref) (reply.Reply, bool, error) {
					return kept, surface == "slack" && ref == "C1/1", nil
				},
				Pictures: func(_ context.Context, r reply.Reply) chat.Drawn {
					if r.Picture == "" {
						return chat.Drawn{}
					}
					return chat.Drawn{Pictures: []chat.Picture{{Name: "profile.png", Alt: "a profile", PNG: []byte{1}}}}
				},
			})
			o.answerer.do = func(_ context.Context, m bot.Message) (reply.Reply, error) {
				switch m.Text {
				case "picture XKLD -38 8200":
					return reply.Reply{Kind: reply.KindNotice, Facts: []string{"Drawn", "Beside it."}, Picture: "profile"}, nil
				case "recompute KALOMI-RUTA":
					return reply.Reply{Kind: reply.KindNotice, Facts: []string{"Version 2."}}, nil
				}
				return worked, nil
			}
			e := said(1, c.text)
			e.Kind, e.Message, e.Fields = chat.Unfolded, c.card, map[string]string{chat.FieldEntry: c.entry}
			o.Handle(t.Context(), unfolding{o.slack}, e)
			o.want(t, c.did)
			got := o.answerer.asked()
			if len(got) != len(c.asked) {
				t.Fatalf("asked %+v, want %q", got, c.asked)
			}
			for i, m := range got {
				if aside := c.entry != "again"; m.Text != c.asked[i] || m.Aside != aside {
					t.Errorf("asked %q, aside %v; want %q, %v", m.Text, m.Aside, c.asked[i], aside)
				}
			}
		})
	}
}

// A store that does not say what stood there is told like one that does not
// know, and asked for by its line.
func TestUnfoldedWithoutStore(t *testing.T) {
	o := newOffice(t, chat.Settings{On: func(context.Context, string, chat.Ref) (reply.Reply, bool, error) {
		return reply.Reply{}, false, errors.New("down")
	}})
	e := said(1, "watch")
	e.Kind, e.Fields = chat.Unfolded, map[string]string{chat.FieldEntry: "clear"}
	o.answerer.do = func(context.Context, bot.Message) (reply.Reply, error) {
		return reply.Reply{Kind: reply.KindWatch, Facts: []string{"1 base"}, Bases: []reply.Cold{{Ident: "XRUN", State: "clear"}}}, nil
	}
	o.Handle(t.Context(), unfolding{o.slack}, e)
	o.want(t, `unfold U1 alone: 1 clear: Clear["XRUN: clear"]`)
}

// early is a surface on which people press before the call that shows a card
// has come back.
type early struct {
	unfolding
	press func()
}

func (s early) Answer(ctx context.Context, e chat.Event, c chat.Message) (chat.Ref, error) {
	ref, err := s.unfolding.Answer(ctx, e, c)
	s.press()
	return ref, err
}

// A press in the same instant as the card appears waits until it is known.
func TestUnfoldedAtOnce(t *testing.T) {
	var mu sync.Mutex
	known := map[chat.Ref]reply.Reply{}
	looked := make(chan struct{}, 2)
	o := newOffice(t, chat.Settings{
		Shown: func(_ context.Context, _ string, ref chat.Ref, r reply.Reply, _ bool) {
			mu.Lock()
			defer mu.Unlock()
			known[ref] = r
		},
		On: func(_ context.Context, _ string, ref chat.Ref) (reply.Reply, bool, error) {
			mu.Lock()
			defer mu.Unlock()
			r, found := known[ref]
			looked <- struct{}{}
			return r, found, nil
		},
	})
	o.answerer.do = func(context.Context, bot.Message) (reply.Reply, error) {
		return reply.Reply{Kind: reply.KindWatch, Facts: []string{"1 base"}, Bases: []reply.Cold{{Ident: "XRUN", State: "clear"}}}, nil
	}
	var s early
	var pressed sync.WaitGroup
	s = early{unfolding{o.slack}, func() {
		e := said(2, "")
		e.Kind, e.Message, e.Fields = chat.Unfolded, "b1", map[string]string{chat.FieldEntry: "clear"}
		pressed.Go(func() { o.Handle(context.Background(), s, e) })
		<-looked // and found nothing
	}}
	o.Handle(t.Context(), s, said(1, "watch"))
	pressed.Wait()
	o.want(t, "answer 1 base", `unfold U1 alone: 1 clear: Clear["XRUN: clear"]`)
}
