package chat_test

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"firn/bot"
	"firn/bot/chat"
	"firn/bot/outbox"
	"firn/bot/reply"
)

const (
	broken = "! firn could not work this out; it is logged. Work it from the published table."
	slow   = "! firn could not work this out in time; ask again, or work it from the published table."
	busy   = "! firn has more to do than it can; ask again in a minute, or work it from the published table."
)

// TestMessage: what the bot is asked for an event.
func TestMessage(t *testing.T) {
	for _, c := range []struct {
		name   string
		change func(*chat.Event)
		want   bot.Message
	}{
		{"in a channel", func(*chat.Event) {},
			bot.Message{Thread: "C1/1", User: "Anna (slack:U1)"}},
		{"a follow-up", func(e *chat.Event) { e.Message, e.Place.Begins, e.Place.Thread = "C1/2", "", "1" },
			bot.Message{Thread: "C1/1", User: "Anna (slack:U1)"}},
		{"a channel without threads", func(e *chat.Event) { e.Place.Begins = "" },
			bot.Message{Thread: "C1/C1/1", User: "Anna (slack:U1)"}},
		{"a command, which no message began", func(e *chat.Event) { e.Place.Begins, e.Message = "", "" },
			bot.Message{User: "Anna (slack:U1)"}},
		{"a direct message", func(e *chat.Event) { e.Place = chat.Place{Channel: "D1", Direct: true, Begins: "1"} },
			bot.Message{Thread: "D1", User: "Anna (slack:U1)", Direct: true, Own: true}},
		{"a thread in a direct message", func(e *chat.Event) { e.Place = chat.Place{Channel: "D1", Direct: true, Thread: "7"} },
			bot.Message{Thread: "D1/7", User: "Anna (slack:U1)", Direct: true, Own: true}},
		{"a direct message of a service without channels", func(e *chat.Event) { e.Place = chat.Place{Direct: true} },
			bot.Message{Thread: "U1", User: "Anna (slack:U1)", Direct: true, Own: true}},
		{"no name", func(e *chat.Event) { e.Person.Name = "" },
			bot.Message{Thread: "C1/1", User: "slack:U1"}},
		{"a name over several lines that turns round", func(e *chat.Event) { e.Person.Name = " An\n\tna\u202e \x00 B " },
			bot.Message{Thread: "C1/1", User: "An na B (slack:U1)"}},
		{"a name that lies", func(e *chat.Event) { e.Person.Name = "Bo (slack:U2)" },
			bot.Message{Thread: "C1/1", User: "Bo (slack:U2) (slack:U1)"}},
		{"a very long name", func(e *chat.Event) { e.Person.Name = strings.Repeat("å", 1000) },
			bot.Message{Thread: "C1/1", User: strings.Repeat("å", 80) + " (slack:U1)"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			o := newOffice(t, chat.Settings{})
			e := said(1, "XKLD -38 8200")
			c.change(&e)
			o.take(t, e)
			c.want.Surface, c.want.ID, c.want.Text, c.want.At, c.want.Duty = "slack", "e1", "XKLD -38 8200", noon, true
			c.want.Channel, c.want.Person = "slack:"+e.Place.Channel, "slack:U1"
			if e.Place.Channel == "" {
				c.want.Channel = ""
			}
			if got := o.answerer.asked(); len(got) != 1 || got[0] != c.want {
				t.Errorf("the bot was asked %+v, want %+v", got, c.want)
			}
			o.want(t, "answer <XKLD -38 8200>")
		})
	}
}

// TestConversation: what the surface is asked for, event by event.
func TestConversation(t *testing.T) {
	lost := errors.New("no such message")
	again := func(e chat.Event) chat.Event { e.ID += "'"; return e } // another id for the same
	press := func(id, text string) chat.Event {
		e := said(1, text)
		e.Kind, e.ID, e.Message = chat.Pressed, id, "b1"
		return e
	}
	for _, c := range []struct {
		name   string
		fail   map[string]error
		events []chat.Event
		want   []string
	}{
		{name: "a message", events: []chat.Event{said(1, "a")}, want: []string{"answer <a>"}},
		{name: "an empty message is the bot's to answer", events: []chat.Event{said(1, "")}, want: []string{"answer <>"}},
		{name: "the same event again", events: []chat.Event{said(1, "a"), said(1, "a")}, want: []string{"answer <a>"}},
		{name: "the same message as another event", events: []chat.Event{said(1, "a"), again(said(1, "a"))}, want: []string{"answer <a>"}},
		{name: "events without an id", events: []chat.Event{{Kind: chat.MessagePosted, Text: "a", Place: chat.Place{Direct: true}}, {Kind: chat.MessagePosted, Text: "a", Place: chat.Place{Direct: true}}},
			want: []string{"answer <a>", "answer <a>"}},
		{name: "an edit", events: []chat.Event{said(1, "a"), edit(1, 1, "b")}, want: []string{"answer <a>", "change b1: <b>"}},
		{name: "an edit delivered twice", events: []chat.Event{said(1, "a"), edit(1, 1, "b"), edit(1, 1, "b")}, want: []string{"answer <a>", "change b1: <b>"}},
		{name: "an edit back", events: []chat.Event{said(1, "a"), edit(1, 1, "b"), edit(1, 2, "a")}, want: []string{"answer <a>", "change b1: <b>", "change b1: <a>"}},
		{name: "an edit to the same text", events: []chat.Event{said(1, "a"), edit(1, 1, "a")}, want: []string{"answer <a>"}},
		{name: "edits that overtake each other", events: []chat.Event{said(1, "a"), edit(1, 2, "c"), edit(1, 1, "b")}, want: []string{"answer <a>", "change b1: <c>"}},
		{name: "an edit before its message", events: []chat.Event{edit(1, 1, "b"), said(1, "a")}, want: []string{"answer <b>"}},
		{name: "an edit of a message that was never answered", events: []chat.Event{edit(1, 1, "b"), edit(1, 2, "c")}, want: []string{"answer <b>", "change b1: <c>"}},
		{name: "two messages and their edits", events: []chat.Event{said(1, "a"), said(2, "x"), edit(1, 1, "b"), edit(2, 1, "y")},
			want: []string{"answer <a>", "answer <x>", "change b1: <b>", "change b2: <y>"}},
		{name: "an answer that was deleted", fail: map[string]error{"change": lost}, events: []chat.Event{said(1, "a"), edit(1, 1, "b")},
			want: []string{"answer <a>", "change failed", "answer <b>"}},
		{name: "an answer that could not be shown", fail: map[string]error{"answer": outbox.Permanent(lost)}, events: []chat.Event{said(1, "a"), edit(1, 1, "b")},
			want: []string{"answer failed", "answer failed"}},
		{name: "a button", events: []chat.Event{said(1, "a"), press("p1", "why")}, want: []string{"answer <a>", "follow b1: <why>"}},
		{name: "a button pressed twice", events: []chat.Event{press("p1", "why"), press("p2", "why")}, want: []string{"follow b1: <why>", "follow b1: <why>"}},
		{name: "a press delivered twice", events: []chat.Event{press("p1", "why"), press("p1", "why")}, want: []string{"follow b1: <why>"}},
		{name: "a button of a card that only one person sees", events: []chat.Event{func() chat.Event { e := press("p1", "why"); e.Message = ""; return e }()}, want: []string{"answer <why>"}},
		{name: "an unknown kind", events: []chat.Event{{ID: "x", Kind: 99, Place: chat.Place{Direct: true}}}, want: nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			o := newOffice(t, chat.Settings{})
			o.slack.fail = c.fail
			o.take(t, c.events...)
			o.want(t, c.want...)
		})
	}
}

// TestEditWaits: an edit that comes while its message is worked on changes
// that answer, and does not get one of its own.
func TestEditWaits(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		o := newOffice(t, chat.Settings{})
		o.answerer.do = func(_ context.Context, m bot.Message) (reply.Reply, error) {
			if m.Text == "a" {
				time.Sleep(5 * time.Second) // of the bubble
			}
			return reply.Reply{Facts: []string{m.Text}}, nil
		}
		go o.Handle(t.Context(), o.slack, said(1, "a"))
		synctest.Wait()
		go o.Handle(t.Context(), o.slack, edit(1, 1, "b"))
		synctest.Wait()
		o.want(t)
		o.Wait()
		o.want(t, "answer a", "change b1: b")
	})
}

// TestEditToTalk: a question that became talk keeps its card, whose record hears of
// it: others may have the card in sight. What is no record's says that there is
// nothing.
func TestEditToTalk(t *testing.T) {
	var ended []string
	o := newOffice(t, chat.Settings{Unasked: func(_ context.Context, surface string, ref chat.Ref) (bool, error) {
		ended = append(ended, surface+" "+string(ref))
		return ref == "b1", nil
	}})
	o.answerer.do = func(_ context.Context, m bot.Message) (reply.Reply, error) {
		if m.Heard || m.Text == "thanks" {
			return reply.Reply{Kind: reply.KindNote}, nil
		}
		if m.Text == "help" {
			return reply.Reply{Kind: reply.KindHelp, Facts: []string{m.Text}}, nil
		}
		return reply.Reply{Facts: []string{m.Text}}, nil
	}
	talk := edit(1, 2, "")
	talk.Unmentioned = true
	o.take(t, said(1, "a"), edit(1, 1, "thanks"), talk, edit(1, 3, "b"), said(2, "x"), edit(2, 1, "thanks"))
	o.want(t, "answer a", "change b1: b", "answer x", "change b2: ")
	// Nor does help take the place of a card: it is an answer of its own.
	o.take(t, edit(1, 4, "help"), edit(2, 2, "help"))
	o.want(t, "answer a", "change b1: b", "answer x", "change b2: ", "answer help", "change b2: help")
	if want := []string{"slack b1", "slack b1", "slack b2", "slack b1", "slack b2"}; !slices.Equal(ended, want) {
		t.Errorf("the records of %q are ended, want %q", ended, want)
	}
}

func TestWhatGoesWrong(t *testing.T) {
	for _, c := range []struct {
		name string
		do   func(context.Context, bot.Message) (reply.Reply, error)
		want []string
		log  string
	}{
		{"an error", func(context.Context, bot.Message) (reply.Reply, error) { return reply.Reply{}, errors.New("disk full") },
			[]string{"answer " + broken}, "disk full"},
		{"a panic", func(context.Context, bot.Message) (reply.Reply, error) { panic("index out of range") },
			[]string{"answer " + broken}, "index out of range"},
		{"longer than the limit", func(ctx context.Context, _ bot.Message) (reply.Reply, error) {
			<-ctx.Done()
			return reply.Reply{}, fmt.Errorf("observe: %w", ctx.Err())
		}, []string{"answer " + slow}, "deadline"},
	} {
		t.Run(c.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				o := newOffice(t, chat.Settings{})
				o.answerer.do = c.do
				began := time.Now()
				o.take(t, said(1, "secret words"))
				if took := time.Since(began); took > 25*time.Second {
					t.Errorf("it took %v", took)
				}
				o.want(t, c.want...)
				if log := o.log.String(); !strings.Contains(log, c.log) || strings.Contains(log, "secret words") {
					t.Errorf("the log has %s", log)
				}
				// The next one is answered as ever.
				o.answerer.do = nil
				o.take(t, edit(1, 1, "b"))
				o.want(t, append(c.want, "change b1: <b>")...)
			})
		})
	}
}

// TestDeedGoesWrong: a deed that could not be done is not worked from a table.
func TestDeedGoesWrong(t *testing.T) {
	const undone = "! firn could not do this, or cannot say that it did; it is logged. Try again in a minute, and tell whoever runs firn."
	for text, want := range map[string]string{
		"ack XKLD": undone, "snooze XKLD 2h": undone, "obs XKLD -38": undone, "check KALOMI-RUTA": undone, "withdraw": undone,
		"XKLD -38 8200": broken, "brief XKLD 1430Z": broken, "log": broken,
	} {
		o := newOffice(t, chat.Settings{})
		o.answerer.do = func(context.Context, bot.Message) (reply.Reply, error) { return reply.Reply{}, errors.New("disk full") }
		o.take(t, said(1, text))
		o.want(t, "answer "+want)
	}
}

// TestStopping: with the surface's context the answers end, without a word.
func TestStopping(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		o := newOffice(t, chat.Settings{})
		o.answerer.do = func(ctx context.Context, _ bot.Message) (reply.Reply, error) {
			<-ctx.Done()
			return reply.Reply{}, ctx.Err()
		}
		ctx, cancel := context.WithCancel(t.Context())
		go o.Handle(ctx, o.slack, said(1, "a"))
		go o.Handle(ctx, o.slack, edit(1, 1, "b"))
		synctest.Wait()
		cancel()
		o.Wait()
		o.want(t)
		// What comes after the end is left to whoever gets it again.
		o.answerer.do = nil
		o.Handle(ctx, o.slack, said(2, "c"))
		o.want(t)
		o.take(t, said(2, "c"))
		o.want(t, "answer <c>")
	})
}

func TestAtWork(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		o := newOffice(t, chat.Settings{AtWork: 2, Waiting: 3, Burst: 100})
		var now, most atomic.Int32
		o.answerer.do = func(_ context.Context, m bot.Message) (reply.Reply, error) {
			if n := now.Add(1); n > most.Load() {
				most.Store(n)
			}
			time.Sleep(time.Second) // of the bubble
			now.Add(-1)
			return reply.Reply{Facts: []string{"done"}}, nil
		}
		for i := range 7 {
			go o.Handle(t.Context(), o.slack, said(i, "a"))
			synctest.Wait()
		}
		// Two are worked on, three wait, and two are told so at once.
		o.want(t, "whisper U1: "+busy, "whisper U1: "+busy)
		o.Wait()
		if got := o.slack.done()[2:]; !slices.Equal(got, slices.Repeat([]string{"answer done"}, 5)) {
			t.Errorf("then the surface did %q", got)
		}
		if most.Load() != 2 {
			t.Errorf("%d were worked on at once, want 2", most.Load())
		}
	})
}

// TestWaitedTooLong: waiting for a turn counts as well.
func TestWaitedTooLong(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		o := newOffice(t, chat.Settings{AtWork: 1, Limit: 10 * time.Second})
		o.answerer.do = func(_ context.Context, m bot.Message) (reply.Reply, error) {
			time.Sleep(12 * time.Second) // a port that does not end with its context
			return reply.Reply{Facts: []string{m.Text}}, nil
		}
		go o.Handle(t.Context(), o.slack, said(1, "a"))
		synctest.Wait()
		o.take(t, said(2, "b"))
		o.Wait()
		o.want(t, "answer "+slow, "answer a")
	})
}

func TestOnce(t *testing.T) {
	t.Run("remembered for an hour", func(t *testing.T) {
		o := newOffice(t, chat.Settings{})
		e := said(1, "a")
		e.Message = "" // a command: only its id says that it is the same
		o.take(t, e)
		o.clock.Pass(59 * time.Minute)
		o.take(t, e)
		o.want(t, "answer <a>")
	})
	t.Run("surfaces have their own ids", func(t *testing.T) {
		o := newOffice(t, chat.Settings{})
		e := said(1, "a")
		e.Place = chat.Place{Channel: "D1", Direct: true}
		discord := &surface{name: "discord"}
		o.take(t, e)
		o.Handle(t.Context(), discord, e)
		if got := discord.done(); len(got) != 1 {
			t.Errorf("discord did %q", got)
		}
	})
	t.Run("many at once", func(t *testing.T) {
		o := newOffice(t, chat.Settings{})
		var wg sync.WaitGroup
		for range 20 {
			wg.Go(func() { o.take(t, said(1, "a")) })
		}
		wg.Wait()
		o.want(t, "answer <a>")
	})
	t.Run("among replicas", func(t *testing.T) {
		synctest.Test(t, func(t *testing.T) {
			var mu sync.Mutex
			asked := map[string]int{}
			o := newOffice(t, chat.Settings{Once: func(_ context.Context, id string) (bool, error) {
				mu.Lock()
				defer mu.Unlock()
				asked[id]++
				switch id {
				case "slack/e1":
					return true, nil
				case "slack/e2":
					return false, nil
				}
				return false, errors.New("the store does not answer")
			}})
			o.take(t, said(1, "ours"), said(2, "another's"), said(3, "who knows"), said(1, "ours"))
			o.want(t, "answer <ours>", "answer <who knows>")
			o.Wait()
			if asked["slack/e1"] != 1 || asked["slack/e2"] != 1 || asked["slack/e3"] < 10 {
				t.Errorf("asked so often: %v", asked)
			}
		})
	})
}

func TestPictures(t *testing.T) {
	o := newOffice(t, chat.Settings{Pictures: func(_ context.Context, r reply.Reply) chat.Drawn {
		return chat.Drawn{Pictures: []chat.Picture{{Name: "a.png", Alt: "shows " + r.Facts[0]}}}
	}})
	o.take(t, said(1, "a"))
	o.want(t, "answer <a> [shows <a>]")
}

func TestLooked(t *testing.T) {
	o := newOffice(t, chat.Settings{})
	e := chat.Event{ID: "l1", Kind: chat.HomeOpened, Place: chat.Place{Home: "T1", Channel: "D1", Direct: true}, Person: chat.Person{ID: "U1"}}
	o.take(t, e)
	o.want(t) // no front page
	e.ID = "l2"
	o.Handle(t.Context(), fronted{surface: o.slack}, e)
	o.want(t, "front U1: <mine>")
	if got := o.answerer.asked(); len(got) != 1 || got[0].Text != "mine" {
		t.Errorf("the bot was asked %+v", got)
	}
	o.answerer.do = func(context.Context, bot.Message) (reply.Reply, error) { return reply.Reply{}, errors.New("disk full") }
	e.ID = "l3"
	o.Handle(t.Context(), fronted{surface: o.slack}, e)
	o.want(t, "front U1: <mine>", "front U1: "+broken)
}
