package slack

import (
	"context"
	"errors"
	"time"

	slackgo "github.com/slack-go/slack"

	"firn/bot/chat"
	"firn/bot/outbox"
)

// errNoWay is that of an event that leaves nowhere to answer to.
var errNoWay = errors.New("slack: the event leaves nowhere to answer to")

// handleOf is where an event's answer goes. Events of this process have a handle;
// without one the event's place says it.
func handleOf(e chat.Event) *handle {
	if h, ok := e.Handle.(*handle); ok && h != nil {
		return h
	}
	h := &handle{channel: e.Place.Channel, thread: e.Place.Thread}
	if h.thread == "" && !e.Place.Direct {
		if at, ok := refOf(e.Message); ok {
			h.thread = at.ts
		}
	}
	return h
}

// Answer shows a card where an answer to the event belongs.
//
// The answer to a command stands in the channel for everybody, posted by the
// bot: the crew reads and checks a correction together, asks on in its thread,
// and it can be changed later; Slack's own answer to a command can do none of
// that. Who asked what stands above it, since nobody else saw the command.
// Only where the bot is not in the channel it goes the way that the command
// left open, which has no ref.
func (s *Surface) Answer(ctx context.Context, e chat.Event, c chat.Message) (chat.Ref, error) {
	h := handleOf(e)
	if h.private && !c.ForAll {
		return "", s.respond(ctx, h, c, slackgo.ResponseTypeEphemeral)
	}
	if h.channel == "" {
		return "", errNoWay
	}
	if h.asked != "" {
		c.Note = joined(cut(nameFor(e.Person)+" asked: "+h.asked, 300), c.Note)
	}
	ref, err := s.answer(ctx, address{h.channel, h.thread}, e, c)
	switch code(err) {
	case "not_in_channel", "channel_not_found":
		if h.response != "" {
			return "", s.respond(ctx, h, c, slackgo.ResponseTypeInChannel)
		}
	}
	if err != nil {
		return "", err
	}
	at, _ := refOf(ref)
	if !direct(h.channel) {
		thread := at.inThread()
		if thread == "" {
			thread = at.ts
			if h.begins != "" {
				s.begun.put(h.channel+"/"+thread, h.begins, threadHolds)
			}
		}
		s.follow(h.channel, thread)
	}
	s.files(ctx, at, c)
	return ref, nil
}

// answer posts the answer to an event under a key of the event's own. Where
// another process may have posted it, that is looked for first.
func (s *Surface) answer(ctx context.Context, a address, e chat.Event, c chat.Message) (chat.Ref, error) {
	if e.ID == "" {
		return s.put(ctx, a, c, freshKey(), true)
	}
	key := "answer/" + e.ID
	if !e.Again {
		return s.put(ctx, a, c, key, true)
	}
	ts, found, err := s.lookFor(ctx, a, key, e.At.Add(-2*time.Minute))
	if err != nil {
		return "", err
	}
	if found {
		at := messageRef{channel: a.channel, ts: ts, thread: a.thread}
		s.posted.put(string(at.ref()), key, keyHolds)
		return at.ref(), nil
	}
	return s.put(ctx, a, c, key, true)
}

func nameFor(p chat.Person) string {
	if p.Name != "" {
		return p.Name
	}
	return p.ID
}

func joined(a, b string) string {
	if b == "" {
		return a
	}
	return a + ". " + b
}

// Whisper shows a card to the event's person alone; in a direct message
// nobody else reads anyway.
func (s *Surface) Whisper(ctx context.Context, e chat.Event, c chat.Message) error {
	h := handleOf(e)
	if !h.private && direct(h.channel) {
		_, err := s.Answer(ctx, e, c)
		return err
	}
	return s.whisper(ctx, e, compose(c))
}

// whisper shows a message to the event's person alone.
func (s *Surface) whisper(ctx context.Context, e chat.Event, m message) error {
	h := handleOf(e)
	switch {
	case h.response != "":
		return s.send(ctx, h, m, slackgo.ResponseTypeEphemeral)
	case h.channel == "" || h.private:
		return errNoWay
	case direct(h.channel):
		_, err := s.post(ctx, address{h.channel, h.thread}, m, freshKey(), true)
		return err
	}
	options := s.content(m)
	// Only a thread that is there takes it; under a message without
	// answers it would be shown nowhere.
	if e.Place.Thread != "" {
		options = append(options, slackgo.MsgOptionTS(h.thread))
	}
	return s.call(ctx, "chat.postEphemeral", h.channel, func(ctx context.Context) error {
		_, err := s.api.PostEphemeralContext(ctx, h.channel, e.Person.ID, options...)
		return err
	})
}

// respond uses the address that a command or a press left: it needs no
// membership, takes five posts, and names no message.
func (s *Surface) respond(ctx context.Context, h *handle, c chat.Message, kind string) error {
	return s.send(ctx, h, compose(c), kind)
}

func (s *Surface) send(ctx context.Context, h *handle, m message, kind string) error {
	if h.response == "" {
		return errNoWay
	}
	options := append(s.content(m), slackgo.MsgOptionResponseURL(h.response, kind))
	if h.thread != "" {
		options = append(options, slackgo.MsgOptionTS(h.thread))
	}
	return s.call(ctx, responseMethod, h.channel, func(ctx context.Context) error {
		_, _, err := s.api.PostMessageContext(ctx, h.channel, options...)
		return err
	})
}

// Follow shows a card in the thread of one, in line in a direct message.
func (s *Surface) Follow(ctx context.Context, ref chat.Ref, c chat.Message) (chat.Ref, error) {
	at, ok := refOf(ref)
	if !ok {
		return "", outbox.Permanent(s.quiet("chat.postMessage: nothing can follow that answer", nil))
	}
	a := address{at.channel, at.inThread()}
	if a.thread == "" && !direct(at.channel) {
		a.thread = at.ts
	}
	r, err := s.put(ctx, a, c, freshKey(), true)
	if err != nil {
		return "", err
	}
	if !direct(a.channel) {
		s.follow(a.channel, a.thread)
	}
	at, _ = refOf(r)
	s.files(ctx, at, c)
	return r, nil
}

// Front shows a card on the person's App Home.
func (s *Surface) Front(ctx context.Context, e chat.Event, c chat.Message) error {
	list := homeBlocks(c)
	list = append(list, slackgo.NewActionBlock("", openButton("")))
	view := slackgo.HomeTabViewRequest{Type: slackgo.VTHomeTab, Blocks: slackgo.Blocks{BlockSet: list}}
	return s.call(ctx, "views.publish", "", func(ctx context.Context) error {
		_, err := s.api.PublishViewContext(ctx, slackgo.PublishViewContextRequest{UserID: e.Person.ID, View: view})
		return err
	})
}
