package discord

import (
	"context"
	"net/http"
	"strconv"

	"github.com/bwmarrin/discordgo"

	"firn/bot/chat"
)

// earlier is the answer that another process has given to a message outside a
// thread, or empty. It stands in the thread under the message, or where that
// process could begin none as a reply in the channel: what was possible then
// says nothing of what is now, so that both are looked at. No nonce tells them:
// Discord forgets it within minutes.
func (s *Surface) earlier(ctx context.Context, o *origin) (chat.Ref, error) {
	me := s.self.Load()
	mine := func(m *discordgo.Message) bool { return me != nil && m.Author != nil && m.Author.ID == me.user }
	list, err := s.latest(ctx, o.message) // the thread has the id of its message
	if err != nil {
		return "", err
	}
	for i := len(list) - 1; i >= 0; i-- { // what the bot said first there
		if mine(list[i]) {
			return refOf(o.message, list[i].ID), nil
		}
	}
	if list, err = s.latest(ctx, o.channel); err != nil {
		return "", err
	}
	for _, m := range list {
		if mine(m) && m.MessageReference != nil && m.MessageReference.MessageID == o.message {
			return refOf(o.channel, m.ID), nil
		}
	}
	return "", nil
}

// latest are the last messages of a channel or thread, newest first; none where
// there is no such thread, or where the bot may post and not read.
func (s *Surface) latest(ctx context.Context, at string) (list []*discordgo.Message, err error) {
	path := "channels/" + at + "/messages"
	err = s.api.call(ctx, request{
		what: "look through channel " + at, method: http.MethodGet, path: path + "?limit=" + strconv.Itoa(pageItems),
		bucket: path + " get", repeat: true,
	}, &list)
	if err != nil && !unclear(err) {
		return nil, nil
	}
	return list, err
}
