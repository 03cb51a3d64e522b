package slack

import (
	"context"
	"strings"
	"time"

	slackgo "github.com/slack-go/slack"

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
	c := chat.Card{Reply: p.Body, Note: p.Lateness()}
	half := p.Channel + "\x00" + p.Key
	have, _ := s.halfway.peek(half)
	r, err := s.put(ctx, address{channel: channel}, c, p.Key, have, false)
	if err == nil {
		s.halfway.drop(half)
	}
	return string(r), err
}

// Find looks for a post by its key, among the messages of the bot as far back
// as an item of the outbox lives. Of a post in several messages the last must
// be there; that the first ones are is remembered for the next Send.
func (s *Surface) Find(ctx context.Context, channel, key string) (ref string, found bool, err error) {
	id, err := s.channel(ctx, channel)
	if err != nil {
		return "", false, err
	}
	rec := record{key: key}
	some := map[int]string{}
	err = s.history(ctx, id, stamp(s.opts.Now().Add(-s.opts.FindBack)), "", func(m *slackgo.Message) bool {
		if !s.ours(m) || keyOf(m.Metadata) != key {
			return true
		}
		if partOf(m.Metadata) < ofHow(m.Metadata) {
			some[partOf(m.Metadata)] = m.Timestamp
			return true
		}
		found, ref = true, string(spot{channel: id, ts: m.Timestamp}.ref())
		return false
	})
	if err != nil || found {
		return ref, found, err
	}
	for i := 1; some[i] != ""; i++ {
		rec.parts = append(rec.parts, some[i])
	}
	if len(rec.parts) > 0 {
		s.halfway.put(channel+"\x00"+key, rec.parts, time.Hour)
	}
	return "", false, nil
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
