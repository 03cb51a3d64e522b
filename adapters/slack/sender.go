package slack

import (
	"context"
	"fmt"
	"strings"

	"firn/bot/chat"
	"firn/bot/outbox"
)

// Send posts an item of the outbox. After an error the outbox asks Find before
// it tries again; nothing is repeated here.
func (s *Surface) Send(ctx context.Context, p outbox.Post) (ref string, err error) {
	channel, err := s.channel(ctx, p.Channel)
	if err != nil {
		return "", err
	}
	return s.sendTo(ctx, address{channel: channel}, p)
}

// SendUnder posts an item into the thread of a message.
func (s *Surface) SendUnder(ctx context.Context, p outbox.Post, root string) (ref string, err error) {
	a, err := s.threadOf(root)
	if err != nil {
		return "", err
	}
	return s.sendTo(ctx, a, p)
}

// FindUnder looks for a post in the thread of a message.
func (s *Surface) FindUnder(ctx context.Context, root, key string) (ref string, found bool, err error) {
	a, err := s.threadOf(root)
	if err != nil {
		return "", false, err
	}
	ts, found, err := s.lookFor(ctx, a, key, s.opts.Now().Add(-s.opts.FindBack))
	return string(messageRef{a.channel, ts, a.thread}.ref()), found, err
}

func (s *Surface) threadOf(root string) (address, error) {
	at, ok := refOf(chat.Ref(root))
	if !ok {
		return address{}, outbox.Permanent(s.quiet("chat.postMessage: nothing can stand under that post", nil))
	}
	return address{at.channel, at.ts}, nil
}

// sendTo posts an item. Those of a channel are spread before Slack has to say so:
// a morning is many posts at once.
func (s *Surface) sendTo(ctx context.Context, a address, p outbox.Post) (ref string, err error) {
	short, err := s.gates.pass(ctx, outboxPosts+a.channel)
	switch {
	case err != nil:
		return "", s.fault("chat.postMessage", fmt.Errorf("%w: %w", errNotSent, err))
	case short > 0:
		return "", s.busy("chat.postMessage", errNotSent, short)
	}
	c := chat.Message{Reply: p.Body, Note: p.Lateness()}
	r, err := s.put(ctx, a, c, p.Key, false)
	if err == nil && a.thread != "" {
		s.follow(a.channel, a.thread)
	}
	return string(r), err
}

// Find looks for a post by its key, among the messages of the bot as far back
// as an item of the outbox lives.
func (s *Surface) Find(ctx context.Context, channel, key string) (ref string, found bool, err error) {
	id, err := s.channel(ctx, channel)
	if err != nil {
		return "", false, err
	}
	ts, found, err := s.lookFor(ctx, address{channel: id}, key, s.opts.Now().Add(-s.opts.FindBack))
	return string(messageRef{channel: id, ts: ts}.ref()), found, err
}

// channel is Slack's id for an address slack:ID; a person's is that of the
// direct message with them.
func (s *Surface) channel(ctx context.Context, address string) (id string, err error) {
	id, ok := strings.CutPrefix(address, Name+":")
	if !ok || id == "" || strings.ContainsAny(id, "/: \n") {
		return "", outbox.Permanent(s.quiet("address "+address+": not of the form slack:ID", nil))
	}
	switch id[0] {
	case 'U', 'W':
		return s.direct(ctx, id)
	case 'S':
		return "", outbox.Permanent(s.quiet("address "+address+": nothing can be posted to a user group", nil))
	}
	return id, nil
}
