package discord

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/bwmarrin/discordgo"

	"firn/bot/chat"
	"firn/bot/outbox"
	"firn/bot/reply"
)

// A Ref is CHANNEL/MESSAGE, where MESSAGE is the one with the buttons; an
// answer of several messages has the others behind that: /FIRST,SECOND.
func refOf(channel string, ids []string) chat.Ref {
	last := len(ids) - 1
	ref := channel + "/" + ids[last]
	if last > 0 {
		ref += "/" + strings.Join(ids[:last], ",")
	}
	return chat.Ref(ref)
}

// parseRef gives a Ref's channel and its messages in the order in which they
// stand there.
func parseRef(ref chat.Ref) (channel string, ids []string, err error) {
	parts := strings.Split(string(ref), "/")
	if len(parts) == 3 {
		ids = strings.Split(parts[2], ",")
		parts = parts[:2]
	}
	if len(parts) != 2 || !snowflake(parts[0]) || !snowflake(parts[1]) {
		return "", nil, fmt.Errorf("discord: %q is no reference of a message", string(ref))
	}
	for _, id := range ids {
		if !snowflake(id) {
			return "", nil, fmt.Errorf("discord: %q is no reference of a message", string(ref))
		}
	}
	return parts[0], append(ids, parts[1]), nil
}

// snowflake says whether a text may be an id of Discord's; anything else must
// not become a part of an address.
func snowflake(id string) bool {
	return id != "" && len(id) <= 20 && strings.Trim(id, "0123456789") == ""
}

// Answer shows a card as the answer to an event.
func (s *Surface) Answer(ctx context.Context, e chat.Event, c chat.Card) (chat.Ref, error) {
	return s.answer(ctx, e, render(c, mostParts, ""), c.Reply)
}

// Whisper shows a card to the person alone: Discord does that for commands,
// buttons and forms.
func (s *Surface) Whisper(ctx context.Context, e chat.Event, c chat.Card) error {
	in, ok := e.Handle.(*interaction)
	if !ok {
		_, err := s.Answer(ctx, e, c)
		return err
	}
	for _, m := range render(c, mostParts, "") {
		if _, err := in.show(ctx, m, true); err != nil {
			return err
		}
	}
	return nil
}

func (s *Surface) answer(ctx context.Context, e chat.Event, parts []message, about ...reply.Reply) (chat.Ref, error) {
	if in, ok := e.Handle.(*interaction); ok {
		var ids []string
		for _, m := range parts {
			id, err := in.show(ctx, m, in.quiet)
			if err != nil {
				return "", err
			}
			s.at.tie(id, in.root)
			ids = append(ids, id)
		}
		if in.quiet {
			return "", nil // nobody can be led to it
		}
		return refOf(in.channel, ids), nil
	}
	o, ok := e.Handle.(*origin)
	if !ok {
		return "", errors.New("discord: the event has no way back")
	}
	if o.at == "" {
		o.at = o.channel
		if e.Again && !o.inline && !o.reply {
			// Another process may have found no thread.
			var err error
			if o.reply, err = s.replied(ctx, o.channel, o.message); err != nil {
				o.at = ""
				return "", err
			}
		}
		if !o.inline && !o.reply {
			thread, err := s.thread(ctx, o.channel, o.message, threadName(about, e.Text))
			switch {
			case err == nil:
				o.at = thread
			case errors.Is(err, errNoThread):
				o.reply = true
			default:
				o.at = ""
				return "", err
			}
		}
	}
	if o.reply {
		parts[0].Reference = reference(o.channel, o.message)
	}
	// Another try at the same event posts to the same place: only there does
	// Discord know the nonce.
	return s.postAll(ctx, o.at, o.root, e.ID, parts)
}

// replied says that an answer stands in the channel as a reply to a message.
func (s *Surface) replied(ctx context.Context, at, message string) (bool, error) {
	var list []discordgo.Message
	path := "channels/" + at + "/messages"
	err := s.api.call(ctx, request{
		what: "look through channel " + at, method: http.MethodGet, path: path + "?limit=" + strconv.Itoa(pageItems),
		bucket: path + " get", repeat: true,
	}, &list)
	if err != nil && !unclear(err) {
		return false, nil // the bot may post there, and not read
	}
	me := s.self.Load()
	return slices.ContainsFunc(list, func(m discordgo.Message) bool {
		return m.MessageReference != nil && m.MessageReference.MessageID == message && me != nil && m.Author != nil && m.Author.ID == me.user
	}), err
}

// Change puts another card in the place of one.
func (s *Surface) Change(ctx context.Context, ref chat.Ref, c chat.Card) error {
	at, ids, err := parseRef(ref)
	if err != nil {
		return err
	}
	mark, err := s.markOn(ctx, at, ids[len(ids)-1])
	if err != nil {
		return err
	}
	for {
		gone, err := s.change(ctx, at, ids, render(c, len(ids), mark))
		if gone < 0 || gone == len(ids)-1 {
			return err
		}
		ids = append(ids[:gone:gone], ids[gone+1:]...) // somebody, or an earlier change, took it away
	}
}

// markOn is the mark of the outbox's key on a message. It stays when the card
// is changed: an attempt whose answer was lost still looks for it.
func (s *Surface) markOn(ctx context.Context, at, id string) (string, error) {
	if mark, ok := s.marks.get(id); ok {
		return mark, nil
	}
	var m discordgo.Message
	path := "channels/" + at + "/messages/"
	if err := s.api.call(ctx, request{what: "look up message " + id, method: http.MethodGet, path: path + id, bucket: path + "get", repeat: true}, &m); err != nil {
		return "", err
	}
	mark := ""
	for _, e := range m.Embeds {
		if e.Footer != nil {
			mark = markIn(e.Footer.Text)
		}
	}
	s.marks.put(id, mark)
	return mark, nil
}

// change edits the messages of an answer; those that are not needed any more
// go. gone is the index of one that is not there any more, or -1.
func (s *Surface) change(ctx context.Context, at string, ids []string, parts []message) (gone int, err error) {
	spare := len(ids) - len(parts)
	for i, id := range ids {
		q := request{
			what: "change message " + id, path: "channels/" + at + "/messages/" + id,
			bucket: "channels/" + at + "/messages", repeat: true,
		}
		if i < spare {
			q.method, q.bucket = http.MethodDelete, q.bucket+" delete"
		} else {
			m := &parts[i-spare]
			q.method, q.body, q.files = http.MethodPatch, *m, m.upload()
		}
		err := s.api.call(ctx, q, nil)
		switch {
		case err == nil:
		case codeOf(err) == codeUnknownMessage && i < spare:
		case codeOf(err) == codeUnknownMessage:
			return i, err
		default:
			return -1, err
		}
	}
	return -1, nil
}

// Follow shows a card in the thread of one.
func (s *Surface) Follow(ctx context.Context, ref chat.Ref, c chat.Card) (chat.Ref, error) {
	at, ids, err := parseRef(ref)
	if err != nil {
		return "", err
	}
	card := ids[len(ids)-1]
	where, err := s.channel(ctx, at)
	if err != nil {
		return "", err
	}
	parts, root := render(c, mostParts, ""), s.at.root(card)
	if where.thread {
		root = s.at.root(at)
	}
	if where.guild != "" && !where.thread {
		thread, err := s.thread(ctx, at, card, threadName([]reply.Reply{c.Reply}, ""))
		switch {
		case err == nil:
			at = thread
		case errors.Is(err, errNoThread):
			parts[0].Reference = reference(at, card)
		default:
			return "", err
		}
	}
	return s.postAll(ctx, at, root, "", parts)
}

func reference(channel, message string) *discordgo.MessageReference {
	must := false // the question may be deleted meanwhile
	return &discordgo.MessageReference{ChannelID: channel, MessageID: message, FailIfNotExists: &must}
}

// postAll posts the messages of an answer. Those to one event have the same
// nonces, so that what two processes post stands once: the second of them
// comes within the minutes for which Discord knows a nonce.
func (s *Surface) postAll(ctx context.Context, at, root, event string, parts []message) (chat.Ref, error) {
	var ids []string
	for i, m := range parts {
		if event != "" {
			m.Nonce = digest(24, "answer", at, event, strconv.Itoa(i))
		}
		id, err := s.post(ctx, at, m)
		if err != nil {
			return "", err
		}
		s.at.tie(id, root)
		ids = append(ids, id)
	}
	return refOf(at, ids), nil
}

// post posts one message. The nonce makes it safe to send it again when no
// answer came: Discord gives the message that stands already.
func (s *Surface) post(ctx context.Context, at string, m message) (id string, err error) {
	m.EnforceNonce = true
	if m.Nonce == "" {
		m.Nonce = rand.Text()[:24]
	}
	if id, err = s.send(ctx, at, m, true); err == nil {
		s.marks.put(id, "")
	}
	return id, err
}

func (s *Surface) send(ctx context.Context, at string, m message, repeat bool) (id string, err error) {
	path := "channels/" + at + "/messages"
	var out discordgo.Message
	if err := s.api.call(ctx, request{what: "post to channel " + at, method: http.MethodPost, path: path, bucket: path, body: m, files: m.upload(), repeat: repeat}, &out); err != nil {
		return "", err
	}
	if out.ID == "" {
		return "", &fault{what: "post to channel " + at, text: "the answer cannot be read", err: errors.New("no id in it")}
	}
	return out.ID, nil
}

// errNoThread says that a channel takes no thread, or not under this message.
var errNoThread = errors.New("no thread")

// noThreadFor is how long a refused thread is not asked for again, so that a
// channel without the permission does not cost a refusal a question.
const noThreadFor = 10 * time.Minute

// threadLimit is how long the beginning of a thread may hold an answer up.
const threadLimit = 5 * time.Second

// keptOpen is after how many minutes without a word Discord folds a thread
// away: a day, one of the four that it offers.
const keptOpen = 1440

// thread is the thread under a message, which has the message's id.
func (s *Surface) thread(ctx context.Context, at, message, name string) (string, error) {
	if c, ok := s.at.channels.get(message); ok && c.thread {
		return message, nil
	}
	if until, ok := s.at.closed.get(at); ok && time.Now().Before(until) {
		return "", errNoThread
	}
	var out discordgo.Channel
	path := "channels/" + at + "/messages/" + message + "/threads"
	within, cancel := context.WithTimeout(ctx, threadLimit)
	defer cancel()
	err := s.api.call(within, request{
		what: "begin a thread in channel " + at, method: http.MethodPost, path: path, bucket: "channels/" + at + "/threads",
		body: map[string]any{"name": name, "auto_archive_duration": keptOpen}, repeat: true,
	}, &out)
	switch {
	case err == nil && out.ID != "":
		s.at.add(&out)
		return out.ID, nil
	case codeOf(err) == codeHasThread:
		return message, nil
	case codeOf(err) == codeUnknownMessage:
		return "", errNoThread
	case ctx.Err() != nil:
		return "", err
	}
	// No permission, no such thing in this channel, too many threads, Discord
	// in trouble: the answer matters more than where it stands.
	pause := noThreadFor
	var f *fault
	var busy outbox.RetryAfterError
	switch {
	case errors.As(err, &busy):
		pause = min(busy.RetryAfter(), noThreadFor)
	case !errors.As(err, &f) || f.unclear():
		pause = 0
	}
	s.log.WarnContext(ctx, "no thread can be begun; the answer is a reply in the channel", "channel", at, "err", err, "again_in", pause)
	s.at.closed.put(at, time.Now().Add(pause))
	return "", errNoThread
}

// threadName says what a thread is about.
func threadName(about []reply.Reply, text string) string {
	const most = 90 // Discord takes 100 characters
	for _, r := range about {
		if ident := clean(r.Station.Ident); ident != "" {
			if r.TemperatureC.OK {
				ident += " " + strings.Replace(trim(r.TemperatureC.Value), "-", "−", 1) + " °C"
			}
			return cut(ident, most)
		}
	}
	if name := clean(text); name != "" {
		return cut(name, most)
	}
	return "firn"
}

// rewind makes a file readable again.
func rewind(f *discordgo.File) {
	if r, ok := f.Reader.(io.Seeker); ok {
		_, _ = r.Seek(0, io.SeekStart) // of bytes in memory
	}
}
