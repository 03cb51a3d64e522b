package slack

import (
	"context"
	"strings"

	slackgo "github.com/slack-go/slack"
	"github.com/slack-go/slack/slackevents"

	"firn/bot/chat"
)

// handle is this surface's way back to an event.
type handle struct {
	// Where an answer goes. Not always the event's Place: that names the thread
	// as the dispatcher knows it.
	channel, thread string
	trigger         string // opens a form, once and within 3 s
	response        string // an address that takes five answers in 30 min
	private         bool   // what the event came from is seen by the person alone
	begins          string // the dispatcher's name for the thread under the answer
	asked           string // what was asked, where nobody else saw it
}

// event takes one of the Events API; again says that Slack has sent it before.
// Nil: there was nothing to do.
func (s *Surface) event(ctx context.Context, outer slackevents.EventsAPIEvent, again bool) *taking {
	switch e := outer.InnerEvent.Data.(type) {
	case *slackevents.AppMentionEvent:
		m := postedMessage{
			team: outer.TeamID, channel: e.Channel, ts: e.TimeStamp, thread: e.ThreadTimeStamp,
			user: e.User, bot: e.BotID, text: e.Text, mention: true, again: again,
		}
		if e.Edited != nil { // an edit put the mention in
			m.edited = e.Edited.TimeStamp
		}
		return s.message(ctx, m)
	case *slackevents.MessageEvent:
		return s.messageEvent(ctx, outer.TeamID, e, again)
	case *slackevents.AppHomeOpenedEvent:
		if e.Tab != "home" || e.User == "" {
			return nil
		}
		return s.hand(ctx, chat.Event{
			ID: "home/" + e.User + "/" + e.EventTimeStamp, Kind: chat.HomeOpened,
			Place:  chat.Place{Home: s.home(outer.TeamID), Channel: e.Channel, Direct: true},
			Person: chat.Person{ID: e.User}, At: s.eventTime(e.EventTimeStamp), Handle: &handle{channel: e.Channel},
		}, nil)
	}
	return nil
}

// postedMessage is a message of somebody, from either of the two events that tell of
// one.
type postedMessage struct {
	team, channel, ts, thread string
	user, bot, text           string
	edited                    string // when, for an edit
	direct, mention, again    bool
	starter                   string // who began the thread
}

func (s *Surface) messageEvent(ctx context.Context, team string, e *slackevents.MessageEvent, again bool) *taking {
	m := postedMessage{team: team, channel: e.Channel, again: again, direct: e.ChannelType == "im" || e.ChannelType == "" && direct(e.Channel)}
	msg := e.Message
	if msg == nil {
		return nil
	}
	switch e.SubType {
	case "", "file_share", "thread_broadcast", "me_message":
	case "message_deleted":
		return s.deletedMessage(ctx, m, e)
	case "message_changed":
		if msg.Edited == nil || msg.SubType == "tombstone" {
			return nil // Slack unfolded a link, or a reply came
		}
		if e.PreviousMessage != nil && e.PreviousMessage.Text == msg.Text {
			return nil
		}
		m.edited = msg.Edited.Timestamp
		// An edit that takes the mention out is one of a message to the bot.
		m.mention = e.PreviousMessage != nil && mentions(e.PreviousMessage.Text, s.me().user)
	default:
		return nil // comings and goings, bots
	}
	m.ts, m.thread, m.starter = msg.Timestamp, msg.ThreadTimestamp, msg.ParentUserId
	m.user, m.bot, m.text = msg.User, msg.BotID, msg.Text
	m.mention = m.mention || mentions(m.text, s.me().user)
	return s.message(ctx, m)
}

// deletedMessage hands on that somebody's message is gone. Whether it was to the
// bot is for the record to know.
func (s *Surface) deletedMessage(ctx context.Context, m postedMessage, e *slackevents.MessageEvent) *taking {
	was := e.PreviousMessage
	if was == nil || was.User == "" || was.User == s.me().user || was.BotID != "" || was.Timestamp == "" {
		return nil
	}
	return s.hand(ctx, chat.Event{
		ID: messageID(m.channel, was.Timestamp) + chat.DeletedID, Kind: chat.Deleted,
		Place:   chat.Place{Home: s.home(m.team), Channel: m.channel, Direct: m.direct},
		Person:  chat.Person{ID: was.User},
		Message: messageRef{m.channel, was.Timestamp, was.ThreadTimestamp}.ref(), At: s.opts.Now(),
	}, nil)
}

// messageID is the id of a message's event.
func messageID(channel, ts string) string { return channel + "/" + ts }

// message hands a message or an edit on, when it is to the bot.
func (s *Surface) message(ctx context.Context, m postedMessage) *taking {
	me := s.me()
	if m.user == "" || m.user == me.user || m.bot != "" || m.user == "USLACKBOT" || m.ts == "" {
		return nil
	}
	at := messageRef{m.channel, m.ts, m.thread}
	e := chat.Event{
		ID: messageID(m.channel, m.ts), Kind: chat.MessagePosted,
		Place:  chat.Place{Home: s.home(m.team), Channel: m.channel, Direct: m.direct},
		Person: chat.Person{ID: m.user}, Message: at.ref(),
		Text: heardText(m.text, me.user), At: s.eventTime(m.ts), Again: m.again, Alone: true,
		Paired: m.mention && !m.direct && !m.again, // a message, and an app_mention
	}
	if m.edited != "" {
		e.ID, e.Kind, e.At = e.ID+"/edited/"+m.edited, chat.Edited, s.eventTime(m.edited)
	}
	h := &handle{channel: m.channel, thread: at.inThread()}
	e.Handle = h
	e.Place.Thread = s.threadName(m.channel, h.thread)
	if !m.direct && h.thread == "" {
		e.Place.Begins, h.thread = m.ts, m.ts
	}
	switch {
	case m.direct:
		return s.hand(ctx, e, nil)
	case m.mention:
		e.Unmentioned = !mentions(m.text, me.user)
		if s.answers(e.Place) {
			s.follow(m.channel, h.thread)
		}
		return s.hand(ctx, e, nil)
	case e.Place.Thread != "" && !addressed(m.text) && s.answers(e.Place):
		e.Unmentioned = true
		return s.hand(ctx, e, func(ctx context.Context, e *chat.Event) bool {
			return s.follows(ctx, m.channel, h.thread, m.starter)
		})
	}
	return nil
}

func (s *Surface) answers(p chat.Place) bool {
	taker := s.taker.Load()
	return taker != nil && (*taker).Answers(s, p)
}

// threadName is the dispatcher's name of a thread. One that the answer to a command
// or a form began has the name under which that was taken: there was no thread
// then.
func (s *Surface) threadName(channel, thread string) string {
	if thread == "" {
		return ""
	}
	if name, ok := s.begun.peek(channel + "/" + thread); ok {
		return name
	}
	return thread
}

// command takes a slash command, already acknowledged.
func (s *Surface) command(ctx context.Context, c slackgo.SlashCommand) {
	text := heardText(c.Text, s.me().user)
	isDirect := direct(c.ChannelID) || c.ChannelName == "directmessage"
	e := chat.Event{
		ID: "command/" + c.TriggerID, Kind: chat.MessagePosted,
		Place:  chat.Place{Home: s.home(c.TeamID), Channel: c.ChannelID, Direct: isDirect},
		Person: chat.Person{ID: c.UserID, Name: c.UserName}, Text: text, At: s.opts.Now(), Alone: true,
	}
	h := &handle{channel: c.ChannelID, trigger: c.TriggerID, response: c.ResponseURL}
	e.Handle = h
	if text == "" || strings.EqualFold(text, "form") {
		e.Kind, e.Text = chat.FormRequested, ""
	} else if !isDirect {
		e.Place.Begins, h.begins = "command-"+c.TriggerID, "command-"+c.TriggerID
		h.asked = text
	}
	s.hand(ctx, e, nil)
}
