package slack

import (
	"context"
	"crypto/rand"
	"errors"
	"time"

	slackgo "github.com/slack-go/slack"

	"firn/bot/chat"
	"firn/bot/outbox"
	"firn/bot/sleep"
)

// postEvent is the event_type of the metadata that every post carries; its
// payload says by which key the post is known.
const postEvent = "firn_post"

// keyHolds is how long the key of a post is known without asking Slack.
const keyHolds = 24 * time.Hour

// address is where a card is put.
type address struct{ channel, thread string }

// put puts a card on a channel, as one message. key is the post's own. again
// says that what failed in doubt is looked for and tried again here, and not
// by the caller.
func (s *Surface) put(ctx context.Context, a address, c chat.Message, key string, again bool) (chat.Ref, error) {
	ts, err := s.post(ctx, a, compose(c), key, again)
	if err != nil {
		return "", err
	}
	at := messageRef{channel: a.channel, ts: ts, thread: a.thread}
	s.posted.put(string(at.ref()), key, keyHolds)
	return at.ref(), nil
}

func metadata(key string) slackgo.SlackMetadata {
	return slackgo.SlackMetadata{EventType: postEvent, EventPayload: map[string]any{"key": key}}
}

// postTries is how often a message is posted whose answer was lost.
const postTries = 3

// post posts one message. There is no key by which Slack itself would know a
// repeat, so that after a failure in doubt the message is looked for by its
// metadata before it is posted again.
func (s *Surface) post(ctx context.Context, a address, m message, key string, again bool) (ts string, err error) {
	begun := s.opts.Now()
	for try := 1; ; try++ {
		options := append(s.content(m), slackgo.MsgOptionMetadata(metadata(key)))
		if a.thread != "" {
			options = append(options, slackgo.MsgOptionTS(a.thread))
		}
		var at string
		err = s.call(ctx, "chat.postMessage", a.channel, func(ctx context.Context) (err error) {
			_, ts, err = s.api.PostMessageContext(ctx, a.channel, options...)
			at = ts
			return err
		})
		if err == nil {
			if at == "" {
				return "", s.quiet("chat.postMessage: Slack names no message", nil)
			}
			return at, nil
		}
		if !again || !unsure(err) || ctx.Err() != nil {
			return "", err
		}
		s.log.WarnContext(ctx, "slack: a message may not have been posted", "channel", a.channel, "try", try, "err", err)
		if sleep.For(ctx, time.Duration(try)*300*time.Millisecond) != nil {
			return "", err
		}
		// Slack's clock may be behind ours.
		found, ok, lost := s.lookFor(ctx, a, key, begun.Add(-2*time.Minute))
		if lost != nil {
			return "", errors.Join(err, lost)
		}
		if ok {
			return found, nil
		}
		if try == postTries {
			return "", err
		}
	}
}

// content is a message's blocks and text, with nothing unfolded under it and
// nothing in it made into a link or a mention.
func (s *Surface) content(m message) []slackgo.MsgOption {
	return []slackgo.MsgOption{
		slackgo.MsgOptionText(m.text, false),
		slackgo.MsgOptionBlocks(m.blocks...),
		slackgo.MsgOptionDisableLinkUnfurl(),
		slackgo.MsgOptionDisableMediaUnfurl(),
		slackgo.MsgOptionParse(false),
	}
}

// lookFor looks for a post by its key.
func (s *Surface) lookFor(ctx context.Context, a address, key string, since time.Time) (ts string, found bool, err error) {
	look := func(m *slackgo.Message) bool {
		if s.ours(m) && keyOf(m.Metadata) == key {
			ts, found = m.Timestamp, true
		}
		return !found
	}
	if a.thread != "" {
		err = s.replies(ctx, a.channel, a.thread, stamp(since), true, look)
	} else {
		err = s.history(ctx, a.channel, stamp(since), "", look)
	}
	return ts, found, err
}

// ours says that a message may be the bot's own: others can write metadata
// too.
func (s *Surface) ours(m *slackgo.Message) bool {
	me := s.me()
	return me.user == "" || m.User == me.user || me.bot != "" && m.BotID == me.bot
}

func keyOf(m slackgo.SlackMetadata) string {
	if m.EventType != postEvent {
		return ""
	}
	key, _ := m.EventPayload["key"].(string)
	return key
}

// olderParts are the other messages of a card that an older firn posted in
// several.
func olderParts(m slackgo.SlackMetadata) (list []string) {
	all, _ := m.EventPayload["parts"].([]any)
	for _, p := range all {
		if ts, ok := p.(string); ok {
			list = append(list, ts)
		}
	}
	return list
}

// Change puts another card in the place of one.
func (s *Surface) Change(ctx context.Context, ref chat.Ref, c chat.Message) error {
	at, ok := refOf(ref)
	if !ok {
		return outbox.Permanent(s.quiet("chat.update: that answer cannot be changed", nil))
	}
	if c.Awaited {
		ctx = context.WithValue(ctx, awaited{}, true)
	}
	key, older := s.postOf(ctx, at)
	if err := s.update(ctx, at.channel, at.ts, compose(c), key); err != nil {
		return err
	}
	s.drop(ctx, at.channel, older)
	if key != "" {
		s.posted.put(string(ref), key, keyHolds)
	}
	s.files(ctx, at, c)
	return nil
}

// update changes one message. It can be repeated: twice is as good as once.
func (s *Surface) update(ctx context.Context, channel, ts string, m message, key string) error {
	options := s.content(m)
	if key != "" {
		options = append(options, slackgo.MsgOptionMetadata(metadata(key)))
	}
	for try := 1; ; try++ {
		err := s.call(ctx, updateMethod, "", func(ctx context.Context) error {
			_, _, _, err := s.api.UpdateMessageContext(ctx, channel, ts, options...)
			return err
		})
		if err == nil || try == postTries || !unsure(err) || ctx.Err() != nil {
			return err
		}
		if sleep.For(ctx, time.Duration(try)*300*time.Millisecond) != nil {
			return err
		}
	}
}

// drop deletes what else stood there of a card: it would show other figures.
func (s *Surface) drop(ctx context.Context, channel string, list []string) {
	for _, ts := range list {
		err := s.call(ctx, "chat.delete", "", func(ctx context.Context) error {
			_, _, err := s.api.DeleteMessageContext(ctx, channel, ts)
			return err
		})
		if err != nil && code(err) != "message_not_found" {
			s.log.WarnContext(ctx, "slack: a part of a card is left over", "channel", channel, "err", err)
		}
	}
}

// postOf is the key of a card; after a restart its message says it.
func (s *Surface) postOf(ctx context.Context, at messageRef) (key string, older []string) {
	if key, ok := s.posted.peek(string(at.ref())); ok {
		return key, nil
	}
	look := func(m *slackgo.Message) bool {
		if m.Timestamp != at.ts {
			return true
		}
		key, older = keyOf(m.Metadata), olderParts(m.Metadata)
		return false
	}
	var err error
	if at.inThread() != "" {
		err = s.replies(ctx, at.channel, at.thread, at.ts, true, look)
	} else {
		err = s.history(ctx, at.channel, at.ts, at.ts, look)
	}
	if err != nil {
		// It is changed without its key; what else it had stays as it is.
		s.log.WarnContext(ctx, "slack does not show a card", "channel", at.channel, "err", err)
	}
	return key, older
}

// freshKey is a key for a card that no outbox knows.
func freshKey() string { return "card/" + rand.Text() }
