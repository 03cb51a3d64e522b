package slack

import (
	"context"
	"crypto/rand"
	"errors"
	"slices"
	"time"

	slackgo "github.com/slack-go/slack"

	"firn/bot/chat"
	"firn/bot/outbox"
)

// postEvent is the event_type of the metadata that every post carries; its
// payload says by which key the post is known, which part of it the message
// is, and where the others stand.
const postEvent = "firn_post"

// record is what is known of a card on Slack: its key, and all messages that
// it takes, in order; at is the one with the buttons, which the ref names.
type record struct {
	key   string
	parts []string
	at    int
}

const recordHolds = 24 * time.Hour

// address is where a card is put.
type address struct{ channel, thread string }

// put puts a card on a channel, in as many messages as it takes, and gives the
// one with the buttons. key is the post's own; have are messages of it that
// stand already. again says that what failed in doubt is looked for and tried
// again here, and not by the caller.
func (s *Surface) put(ctx context.Context, a address, c chat.Card, key string, have []string, again bool) (chat.Ref, error) {
	list := pack(c, last)
	parts := slices.Clone(have)
	if len(parts) >= len(list) {
		parts = parts[:len(list)-1]
	}
	for i := len(parts); i < len(list); i++ {
		meta := s.metadata(key, i, len(list), parts)
		ts, err := s.post(ctx, a, list[i], meta, again)
		if err != nil {
			return "", err
		}
		parts = append(parts, ts)
	}
	at := spot{channel: a.channel, ts: parts[len(parts)-1], thread: a.thread}
	s.posted.put(string(at.ref()), record{key: key, parts: parts, at: len(parts) - 1}, recordHolds)
	return at.ref(), nil
}

// metadata of the i-th of n messages of a post, the earlier of which are there.
func (s *Surface) metadata(key string, i, n int, before []string) slackgo.SlackMetadata {
	payload := map[string]any{"key": key}
	if n > 1 {
		payload["part"], payload["of"] = i+1, n
	}
	if i == n-1 && len(before) > 0 {
		payload["parts"] = before
	}
	return slackgo.SlackMetadata{EventType: postEvent, EventPayload: payload}
}

// postTries is how often a message is posted whose answer was lost.
const postTries = 3

// post posts one message. There is no key by which Slack itself would know a
// repeat, so that after a failure in doubt the message is looked for by its
// metadata before it is posted again.
func (s *Surface) post(ctx context.Context, a address, m message, meta slackgo.SlackMetadata, again bool) (ts string, err error) {
	begun := s.opts.Now()
	for try := 1; ; try++ {
		options := append(s.content(m), slackgo.MsgOptionMetadata(meta))
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
		if sleep(ctx, time.Duration(try)*300*time.Millisecond) != nil {
			return "", err
		}
		// Slack's clock may be behind ours.
		found, ok, lost := s.lookFor(ctx, a, meta, begun.Add(-2*time.Minute))
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

// lookFor looks for one message of a post.
func (s *Surface) lookFor(ctx context.Context, a address, meta slackgo.SlackMetadata, since time.Time) (ts string, found bool, err error) {
	want, wantPart := keyOf(meta), partOf(meta)
	look := func(m *slackgo.Message) bool {
		if s.ours(m) && keyOf(m.Metadata) == want && partOf(m.Metadata) == wantPart {
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

// standing are the messages of a post that are there, in order from the first;
// whole says that none is missing.
func (s *Surface) standing(ctx context.Context, a address, key string, since time.Time) (parts []string, whole bool, err error) {
	found, of := map[int]string{}, 0
	look := func(m *slackgo.Message) bool {
		if s.ours(m) && keyOf(m.Metadata) == key {
			n := partOf(m.Metadata)
			if before := partsOf(m.Metadata); n == 1 && len(before) > 0 { // it was changed since
				parts, whole = append(before, m.Timestamp), true
				return false
			}
			found[n], of = m.Timestamp, max(of, ofHow(m.Metadata))
		}
		return true
	}
	if a.thread != "" {
		err = s.replies(ctx, a.channel, a.thread, stamp(since), true, look)
	} else {
		err = s.history(ctx, a.channel, stamp(since), "", look)
	}
	if err != nil || whole {
		return parts, whole, err
	}
	for i := 1; found[i] != ""; i++ {
		parts = append(parts, found[i])
	}
	return parts, of > 0 && len(parts) == of, nil
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

// partOf is which message of a post one is, from 1; 1 for a post in one.
func partOf(m slackgo.SlackMetadata) int { return max(numberOf(m, "part"), 1) }

// ofHow is how many messages a post is.
func ofHow(m slackgo.SlackMetadata) int { return max(numberOf(m, "of"), 1) }

func numberOf(m slackgo.SlackMetadata, name string) int {
	switch v := m.EventPayload[name].(type) {
	case float64:
		return int(v)
	case int:
		return v
	}
	return 0
}

func partsOf(m slackgo.SlackMetadata) []string {
	var out []string
	switch v := m.EventPayload["parts"].(type) {
	case []any:
		for _, p := range v {
			if ts, ok := p.(string); ok {
				out = append(out, ts)
			}
		}
	case []string:
		out = v
	}
	return out
}

// Change puts another card in the place of one. The message with the buttons
// stays the one that it was; of the others as many as are needed are changed,
// posted behind it, or deleted.
func (s *Surface) Change(ctx context.Context, ref chat.Ref, c chat.Card) error {
	at, ok := spotOf(ref)
	if !ok {
		return outbox.Permanent(s.quiet("chat.update: that answer cannot be changed", nil))
	}
	rec := s.record(ctx, at)
	first := 0 // of the messages that are used again
	list := pack(c, func(n int) int {
		first = max(0, rec.at-n+1)
		return rec.at - first
	})
	if spare := rec.parts[:first]; len(spare) > 0 {
		s.drop(ctx, at.channel, spare)
	}
	kept := rec.parts[first:]
	if len(kept) > len(list) {
		s.drop(ctx, at.channel, kept[len(list):])
		kept = kept[:len(list)]
	}
	parts := slices.Clone(kept)
	here := rec.at - first
	for i := len(kept); i < len(list); i++ { // behind it, in its thread
		a := address{at.channel, at.thread}
		if a.thread == "" && !direct(at.channel) {
			a.thread = at.ts
		}
		ts, err := s.post(ctx, a, list[i], s.metadata(freshKey(), 0, 1, nil), true)
		if err != nil {
			return err
		}
		parts = append(parts, ts)
	}
	for i := range kept {
		var meta *slackgo.SlackMetadata
		if i == here && rec.key != "" {
			others := slices.Clone(parts)
			others = slices.Delete(others, here, here+1)
			m := s.metadata(rec.key, here, 1, nil)
			if len(others) > 0 {
				m.EventPayload["parts"], m.EventPayload["here"] = others, here
			}
			meta = &m
		}
		if err := s.update(ctx, at.channel, kept[i], list[i], meta); err != nil {
			return err
		}
	}
	s.posted.put(string(ref), record{key: rec.key, parts: parts, at: here}, recordHolds)
	s.files(ctx, at, c)
	return nil
}

// update changes one message. It can be repeated: twice is as good as once.
func (s *Surface) update(ctx context.Context, channel, ts string, m message, meta *slackgo.SlackMetadata) error {
	options := s.content(m)
	if meta != nil {
		options = append(options, slackgo.MsgOptionMetadata(*meta))
	}
	for try := 1; ; try++ {
		err := s.call(ctx, "chat.update", "", func(ctx context.Context) error {
			_, _, _, err := s.api.UpdateMessageContext(ctx, channel, ts, options...)
			return err
		})
		if err == nil || try == postTries || !unsure(err) || ctx.Err() != nil {
			return err
		}
		if sleep(ctx, time.Duration(try)*300*time.Millisecond) != nil {
			return err
		}
	}
}

// drop deletes messages of a card that it no longer takes.
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

// record is what is known of a card; after a restart its message says it.
func (s *Surface) record(ctx context.Context, at spot) record {
	key := string(at.ref())
	if rec, ok := s.posted.peek(key); ok && len(rec.parts) > 0 {
		return rec
	}
	rec := record{parts: []string{at.ts}}
	look := func(m *slackgo.Message) bool {
		if m.Timestamp != at.ts {
			return true
		}
		rec.key = keyOf(m.Metadata)
		if others := partsOf(m.Metadata); len(others) > 0 {
			rec.at = len(others)
			if _, ok := m.Metadata.EventPayload["here"]; ok {
				rec.at = min(max(numberOf(m.Metadata, "here"), 0), len(others))
			}
			rec.parts = slices.Insert(others, rec.at, at.ts)
		}
		return false
	}
	var err error
	if at.inThread() != "" {
		err = s.replies(ctx, at.channel, at.thread, at.ts, true, look)
	} else {
		err = s.history(ctx, at.channel, at.ts, at.ts, look)
	}
	if err != nil {
		// It is changed as one message; what else it had stays as it is.
		s.log.WarnContext(ctx, "slack does not show a card", "channel", at.channel, "err", err)
	}
	return rec
}

// freshKey is a key for a card that no outbox knows.
func freshKey() string { return "card/" + rand.Text() }
