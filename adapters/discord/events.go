package discord

import (
	"context"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/bwmarrin/discordgo"

	"firn/bot/chat"
)

// origin is the way back to a message.
type origin struct {
	channel string // where it stands
	message string
	inline  bool   // the answer stands beside it: a thread, a direct message, a conversation by replies
	reply   bool   // the answer refers to it: a conversation by replies
	root    string // of the conversation
	at      string // where the answer was begun; empty: not yet
}

// take does something with an event in a goroutine of its own, until Run ends.
func (s *Surface) take(do func(ctx context.Context)) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if !s.leaving {
		s.takes.Go(func() { do(s.work) })
	}
}

// onMessage sorts out what is not for the bot; it runs for every message of
// every channel and never waits.
func (s *Surface) onMessage(m *discordgo.Message, edited bool) {
	me := s.self.Load()
	if m == nil || me == nil || m.Author == nil || m.Author.Bot || m.Author.System || m.WebhookID != "" || m.Author.ID == me.user {
		return
	}
	if m.Type != discordgo.MessageTypeDefault && m.Type != discordgo.MessageTypeReply {
		return
	}
	if edited && m.EditedTimestamp == nil {
		return // a preview of a link was added
	}
	direct := m.GuildID == ""
	mentioned := slices.ContainsFunc(m.Mentions, func(u *discordgo.User) bool { return u.ID == me.user })
	// A question that was answered in a thread of its own, and does not mention the
	// bot any more. What it says now may be withheld.
	unasked := edited && !direct && !mentioned && s.threaded(m.ID, me.user)
	if !direct && !mentioned && m.Content == "" && !unasked {
		return // not for the bot, or withheld
	}
	to := m.ReferencedMessage
	answers := to != nil && to.Author != nil && to.Author.ID == me.user
	if !direct && !mentioned && !answers && !unasked {
		// A follow-up, if it stands in a thread that the bot began. Channels
		// are known from the start; what is not known is asked for aside.
		if c, ok := s.at.channels.get(m.ChannelID); ok && (!c.thread || c.owner != me.user) {
			return
		}
	}
	s.take(func(ctx context.Context) {
		var c channel
		if !direct {
			var err error
			if c, err = s.channel(ctx, m.ChannelID); err != nil {
				s.log.ErrorContext(ctx, "message not taken", "channel", m.ChannelID, "message", m.ID, "err", err)
				return
			}
			if !mentioned && !answers && !unasked && (!c.thread || c.owner != me.user) {
				return
			}
		}
		e := s.said(m, c, me, edited, answers)
		e.Unmentioned = !direct && !mentioned
		if direct {
			e.Person = s.outsideGuild(ctx, e.Person)
		}
		s.taker.Handle(ctx, s, e)
	})
}

// threaded says that a message is known to have a thread that the bot began.
func (s *Surface) threaded(message, me string) bool {
	c, ok := s.at.channels.get(message)
	return ok && c.thread && c.owner == me
}

// onDelete hands on that a message is gone. Whether it was to the bot, and who
// wrote it, is for the record to know: Discord does not say.
func (s *Surface) onDelete(m *discordgo.Message) {
	if m == nil || m.ID == "" {
		return
	}
	s.take(func(ctx context.Context) {
		place := chat.Place{Channel: m.ChannelID, Direct: true}
		if m.GuildID != "" {
			c, err := s.channel(ctx, m.ChannelID)
			if err != nil {
				s.log.DebugContext(ctx, "deletion not taken", "channel", m.ChannelID, "err", err)
				return
			}
			place = chat.Place{Home: m.GuildID, Channel: m.ChannelID}
			if c.thread {
				place.Channel = c.parent
			}
		}
		s.taker.Handle(ctx, s, chat.Event{
			ID: m.ID + chat.DeletedID, Kind: chat.Deleted, Place: place, Message: chat.Ref(m.ChannelID + "/" + m.ID), At: time.Now(),
		})
	})
}

// said makes the event of a message.
func (s *Surface) said(m *discordgo.Message, c channel, me *self, edited, answers bool) chat.Event {
	o := origin{channel: m.ChannelID, message: m.ID, root: m.ID}
	e := chat.Event{
		ID:      m.ID,
		Kind:    chat.MessagePosted,
		Person:  personOf(m.Member, m.Author),
		Message: chat.Ref(m.ChannelID + "/" + m.ID),
		Text:    withoutMention(m.Content, me.user),
		At:      timeOf(m.ID),
	}
	switch {
	case m.GuildID == "":
		e.Place = chat.Place{Channel: m.ChannelID, Direct: true}
		o.inline = true
	case c.thread:
		o.root, o.inline = s.at.root(m.ChannelID), true
		e.Place = chat.Place{Home: m.GuildID, Channel: c.parent, Thread: o.root}
	case answers:
		o.root = s.at.rootOf(m.ReferencedMessage, m.ChannelID)
		s.at.link(m.ID, o.root)
		o.inline, o.reply = true, true
		e.Place = chat.Place{Home: m.GuildID, Channel: m.ChannelID, Thread: o.root}
	default:
		e.Place = chat.Place{Home: m.GuildID, Channel: m.ChannelID, Begins: m.ID}
	}
	if edited {
		e.Kind, e.At = chat.Edited, *m.EditedTimestamp
		e.ID = m.ID + "@" + strconv.FormatInt(m.EditedTimestamp.UnixMicro(), 10)
	}
	e.Handle = &o
	return e
}

// personOf is who did something; a member is one of a server.
func personOf(member *discordgo.Member, user *discordgo.User) chat.Person {
	var p chat.Person
	if member != nil {
		p.Name, p.Groups = member.Nick, member.Roles
		if member.Flags&guestFlag != 0 {
			p.Standing = chat.Outsider
		}
		if user == nil {
			user = member.User
		}
	}
	if user != nil {
		p.ID = user.ID
		for _, name := range []string{user.GlobalName, user.Username} {
			if p.Name == "" {
				p.Name = name
			}
		}
	}
	return p
}

// withoutMention is a text without the mentions of the bot.
func withoutMention(text, bot string) string {
	return strings.TrimSpace(strings.NewReplacer("<@"+bot+">", "", "<@!"+bot+">", "").Replace(text))
}

// timeOf is when an id was made, which Discord writes into it.
func timeOf(id string) time.Time {
	t, err := discordgo.SnowflakeTimestamp(id)
	if err != nil {
		return time.Time{}
	}
	return t.UTC()
}
