package slack

import (
	"context"
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
	c := chat.Message{Reply: p.Body, Note: p.Lateness()}
	r, err := s.put(ctx, address{channel: channel}, c, p.Key, false)
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
