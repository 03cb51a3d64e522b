package slack

import (
	"context"
	"time"

	slackgo "github.com/slack-go/slack"
)

const (
	threadHolds = 24 * time.Hour
	// notThread is short: another replica may have been called into the thread
	// since.
	notThread = 20 * time.Second
)

// follows says whether the bot takes part in a thread, so that what is said
// in it without a mention is said to it. The bot does when the thread began
// with its own message, when it was called in this process's life, or when
// Slack shows a message of it there (after a restart, or with replicas).
func (s *Surface) follows(ctx context.Context, channel, thread, starter string) bool {
	me := s.me()
	if starter != "" && starter == me.user {
		return true
	}
	return s.threads.get(channel+"/"+thread, func(bool) (bool, time.Duration) {
		ctx, cancel := context.WithTimeout(ctx, lookupLasts)
		defer cancel()
		in := false
		err := s.replies(ctx, channel, thread, "", false, func(m *slackgo.Message) bool {
			in = m.User == me.user || m.BotID != "" && m.BotID == me.bot
			return !in
		})
		if err != nil {
			s.log.WarnContext(ctx, "slack does not show a thread", "channel", channel, "err", err)
			return false, notThread
		}
		if in {
			return true, threadHolds
		}
		return false, notThread
	})
}

// follow notes that the bot takes part in a thread.
func (s *Surface) follow(channel, thread string) {
	if thread != "" {
		s.threads.put(channel+"/"+thread, true, threadHolds)
	}
}

// replies goes through the messages of a thread from a time on, until each
// says no.
func (s *Surface) replies(ctx context.Context, channel, thread, oldest string, metadata bool, each func(*slackgo.Message) bool) error {
	p := slackgo.GetConversationRepliesParameters{ChannelID: channel, Timestamp: thread, Oldest: oldest, Inclusive: true, Limit: 200, IncludeAllMetadata: metadata}
	return s.pages(ctx, "conversations.replies", &p.Cursor, each, func(ctx context.Context) (list []slackgo.Message, next string, err error) {
		list, _, next, err = s.api.GetConversationRepliesContext(ctx, &p)
		return list, next, err
	})
}

// history goes through the messages of a channel, newest first, back to a
// time, until each says no.
func (s *Surface) history(ctx context.Context, channel, oldest, latest string, each func(*slackgo.Message) bool) error {
	p := slackgo.GetConversationHistoryParameters{ChannelID: channel, Oldest: oldest, Latest: latest, Inclusive: true, Limit: 200, IncludeAllMetadata: true}
	return s.pages(ctx, "conversations.history", &p.Cursor, each, func(ctx context.Context) ([]slackgo.Message, string, error) {
		r, err := s.api.GetConversationHistoryContext(ctx, &p)
		if err != nil {
			return nil, "", err
		}
		return r.Messages, r.ResponseMetaData.NextCursor, nil
	})
}

// pages bounds how far a lookup goes; mostPages is 20 000 messages.
const mostPages = 100

func (s *Surface) pages(ctx context.Context, method string, cursor *string, each func(*slackgo.Message) bool, page func(context.Context) ([]slackgo.Message, string, error)) error {
	for range mostPages {
		var list []slackgo.Message
		var next string
		err := s.call(ctx, method, "", func(ctx context.Context) (err error) {
			list, next, err = page(ctx)
			return err
		})
		if err != nil {
			return err
		}
		for i := range list {
			if !each(&list[i]) {
				return nil
			}
		}
		if next == "" {
			return nil
		}
		*cursor = next
	}
	// Saying that nothing is there would be a guess.
	return s.quiet(method+": more messages than can be looked through", nil)
}
