package discord

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"time"

	"github.com/bwmarrin/discordgo"

	"firn/bot/chat"
	"firn/bot/outbox"
)

// How far back a post is looked for: the outbox gives up after a day, and in
// a busy channel this many pages of a hundred messages.
const (
	lookBack  = 49 * time.Hour
	pages     = 10
	pageItems = 100
)

// Send posts to a channel, or to a person by direct message. The nonce keeps
// Discord from storing it twice for a few minutes; after that Find knows it
// by the mark of its key; see mark.go.
func (s *Surface) Send(ctx context.Context, p outbox.Post) (ref string, err error) {
	id, err := target(p.Channel)
	if err != nil {
		return "", err
	}
	c := chat.Message{Reply: p.Body}
	if late := p.Lateness(); late != "" {
		c.Note = "This post is " + late + "."
	}
	err = s.inChannel(ctx, id, func(at string) error {
		ref, err = s.sendPost(ctx, at, c, p.Key)
		return err
	})
	if err != nil {
		return "", settled(err)
	}
	return ref, nil
}

func (s *Surface) sendPost(ctx context.Context, at string, c chat.Message, key string) (ref string, err error) {
	mark := markOf(key)
	m := render(c, mark)
	m.EnforceNonce, m.Nonce = true, digest(24, "nonce", at, key)
	where, message, err := s.send(ctx, at, m, spreadPost)
	if err != nil {
		return "", err
	}
	s.marks.put(message, mark)
	return where + "/" + message, nil
}

// SendUnder posts into the thread of a message, which it begins; where none can
// be begun, below it.
func (s *Surface) SendUnder(ctx context.Context, p outbox.Post, root string) (ref string, err error) {
	at, ids, err := parseRef(chat.Ref(root))
	if err != nil {
		return "", outbox.Permanent(err)
	}
	c := chat.Message{Reply: p.Body}
	if late := p.Lateness(); late != "" {
		c.Note = "This post is " + late + "."
	}
	day := "firn"
	if d := p.Body.Digest; d != nil {
		day = "Cold watch " + d.Day
	}
	switch thread, err := s.thread(ctx, at, ids[len(ids)-1], day); {
	case err == nil:
		at = thread
	case !errors.Is(err, errNoThread):
		return "", settled(err)
	}
	ref, err = s.sendPost(ctx, at, c, p.Key)
	if err != nil {
		return "", settled(err)
	}
	return ref, nil
}

// FindUnder looks for a post in the thread of a message, and below it.
func (s *Surface) FindUnder(ctx context.Context, root, key string) (ref string, found bool, err error) {
	at, ids, err := parseRef(chat.Ref(root))
	if err != nil {
		return "", false, outbox.Permanent(err)
	}
	for _, place := range []string{ids[len(ids)-1], at} { // the thread has the id of its message
		ref, found, err = s.find(ctx, place, key)
		if codeOf(err) == codeUnknownChannel {
			err = nil // there is no thread
		}
		if found || err != nil {
			break
		}
	}
	if err != nil {
		return "", false, settled(err)
	}
	return ref, found, nil
}

// Find looks for a post by its key among a channel's messages.
func (s *Surface) Find(ctx context.Context, channel, key string) (ref string, found bool, err error) {
	id, err := target(channel)
	if err != nil {
		return "", false, err
	}
	err = s.inChannel(ctx, id, func(at string) error {
		ref, found, err = s.find(ctx, at, key)
		return err
	})
	if err != nil {
		return "", false, settled(err)
	}
	return ref, found, nil
}

func (s *Surface) find(ctx context.Context, at, key string) (ref string, found bool, err error) {
	me, before, mark := s.self.Load(), "", markOf(key)
	for range pages {
		query := url.Values{"limit": {fmt.Sprint(pageItems)}}
		if before != "" {
			query.Set("before", before)
		}
		var list []discordgo.Message
		path := "channels/" + at + "/messages"
		if err := s.api.call(ctx, request{what: "look through channel " + at, method: http.MethodGet, path: path + "?" + query.Encode(), bucket: path + " get", repeat: true}, &list); err != nil {
			return "", false, err
		}
		for i := range list {
			m := &list[i]
			before = m.ID
			if m.Author == nil || !m.Author.Bot || me != nil && m.Author.ID != me.user {
				continue
			}
			if markOn(m) == mark {
				return at + "/" + m.ID, true, nil
			}
		}
		if len(list) < pageItems || time.Since(timeOf(before)) > lookBack {
			break
		}
	}
	return "", false, nil
}

// target is the id in an address of this surface.
func target(channel string) (string, error) {
	id, ok := strings.CutPrefix(channel, Name+":")
	switch {
	case ok && snowflake(id):
		return id, nil
	case strings.HasPrefix(id, "role:"):
		return "", outbox.Permanent(fmt.Errorf("discord: %s is a role, and nothing can be posted to one: name a channel or a person", plainly(channel)))
	}
	return "", outbox.Permanent(fmt.Errorf("discord: %q is no channel of Discord; type discord: and the id of a channel or a person", plainly(channel)))
}

// inChannel does something in a channel of this id, or in the direct messages
// with a person of this id: an address does not say which it is.
func (s *Surface) inChannel(ctx context.Context, id string, do func(channel string) error) error {
	if at, ok := s.users.get(id); ok {
		return do(at)
	}
	err := do(id)
	if codeOf(err) != codeUnknownChannel {
		return err
	}
	var dm discordgo.Channel
	path := "users/@me/channels"
	opened := s.api.call(ctx, request{
		what: "open direct messages with " + id, method: http.MethodPost, path: path, bucket: path,
		body: map[string]string{"recipient_id": id}, repeat: true,
	}, &dm)
	if opened != nil {
		if settledError := settled(opened); outbox.IsPermanent(settledError) {
			return err // neither a channel nor a person: the first error says it
		}
		return opened
	}
	if !snowflake(dm.ID) {
		return errors.New("discord: open direct messages: no id came back")
	}
	s.users.put(id, dm.ID)
	return do(dm.ID)
}
