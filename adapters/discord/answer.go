package discord

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"net/http"
	"strings"
	"time"

	"github.com/bwmarrin/discordgo"

	"firn/bot/chat"
	"firn/bot/outbox"
	"firn/bot/reply"
)

// refOf is a message's Ref, CHANNEL/MESSAGE. An answer of an older firn may be several messages:
// MESSAGE has the buttons, and the others stand behind it: /FIRST,SECOND.
func refOf(channel, id string) chat.Ref { return chat.Ref(channel + "/" + id) }

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
func (s *Surface) Answer(ctx context.Context, e chat.Event, c chat.Message) (chat.Ref, error) {
	if in, ok := e.Handle.(*interaction); ok && c.ForAll {
		in.quiet = false
	}
	return s.answer(ctx, e, render(c, ""), c.Reply)
}

// Whisper shows a card to the person alone: Discord does that for commands,
// buttons and forms.
func (s *Surface) Whisper(ctx context.Context, e chat.Event, c chat.Message) error {
	in, ok := e.Handle.(*interaction)
	if !ok {
		_, err := s.Answer(ctx, e, c)
		return err
	}
	_, err := in.show(ctx, render(c, ""), true)
	return err
}

// Unfold shows what lay behind More to the person who chose it, alone.
func (s *Surface) Unfold(ctx context.Context, e chat.Event, p chat.Part) error {
	in, ok := e.Handle.(*interaction)
	if !ok {
		return errNoWay
	}
	_, err := in.show(ctx, unfolded(p), true)
	return err
}

// errNoWay is that of an event that leaves nowhere to answer to.
var errNoWay = errors.New("discord: the event has no way back")

func (s *Surface) answer(ctx context.Context, e chat.Event, m message, about ...reply.Reply) (chat.Ref, error) {
	if in, ok := e.Handle.(*interaction); ok {
		id, err := in.show(ctx, m, in.quiet)
		if err != nil {
			return "", err
		}
		s.at.link(id, in.root)
		if in.quiet {
			return "", nil // nobody can be led to it
		}
		return refOf(in.channel, id), nil
	}
	o, ok := e.Handle.(*origin)
	if !ok {
		return "", errNoWay
	}
	if !o.inline && (e.Again || e.At.Before(s.began)) {
		had, err := s.earlier(ctx, o)
		switch {
		case err != nil:
			return "", err
		case had != "" && e.Kind != chat.Edited:
			return had, nil
		case had != "":
			o.at, o.reply = o.channel, !strings.HasPrefix(string(had), o.message+"/")
			if !o.reply {
				o.at = o.message // the thread has the id of its message
			}
		}
	}
	if o.at == "" {
		if err := s.begin(ctx, o, asks(about), threadName(about, e.Text, e.At)); err != nil {
			return "", err
		}
	}
	if o.reply {
		m.Reference = reference(o.channel, o.message)
	}
	// Whoever answers the same event gives it the same nonce, wherever the answer
	// goes, so that what two processes post stands once: the second comes within
	// the minutes for which Discord knows a nonce.
	if e.ID != "" {
		m.Nonce = digest(24, "answer", e.ID)
	}
	return s.put(ctx, o.at, o.root, m)
}

// begin finds the place of an answer: beside the message in a thread or a direct
// message, else in the thread under what began the conversation. What only asks
// back refers to the message in the channel: a slip of the pen makes no thread.
// So does everything where no thread can be begun. Another try posts to the same
// place.
func (s *Surface) begin(ctx context.Context, o *origin, asks bool, name string) error {
	switch {
	case o.inline && !o.reply:
		o.at = o.channel
		return nil
	case asks:
		o.at, o.reply = o.channel, true
		return nil
	}
	thread, err := s.thread(ctx, o.channel, o.root, name)
	switch {
	case err == nil:
		o.at, o.reply = thread, false
	case errors.Is(err, errNoThread):
		o.at, o.reply = o.channel, true
	default:
		return err
	}
	return nil
}

// asks says that a card only asks back, or refuses.
func asks(about []reply.Reply) bool {
	return len(about) > 0 && (about[0].Kind == reply.KindQuestion || about[0].Kind == reply.KindError)
}

// Change puts another card in the place of one.
func (s *Surface) Change(ctx context.Context, ref chat.Ref, c chat.Message) error {
	at, ids, err := parseRef(ref)
	if err != nil {
		return err
	}
	mark, err := s.markStanding(ctx, at, ids[len(ids)-1])
	if err != nil {
		return err
	}
	how := spreadEdit
	if c.Awaited {
		how = atOnce
	}
	for {
		gone, err := s.change(ctx, at, ids, render(c, mark), how)
		if gone < 0 || gone == len(ids)-1 {
			return err
		}
		ids = append(ids[:gone:gone], ids[gone+1:]...) // somebody, or an earlier change, took it away
	}
}

// markStanding is the mark of the outbox's key on a message. It stays when the card
// is changed: an attempt whose answer was lost still looks for it.
func (s *Surface) markStanding(ctx context.Context, at, id string) (string, error) {
	if mark, ok := s.marks.get(id); ok {
		return mark, nil
	}
	var m discordgo.Message
	path := "channels/" + at + "/messages/"
	if err := s.api.call(ctx, request{what: "look up message " + id, method: http.MethodGet, path: path + id, bucket: path + "get", repeat: true}, &m); err != nil {
		return "", err
	}
	mark := markOn(&m)
	s.marks.put(id, mark)
	return mark, nil
}

// change edits the last message of an answer; the others, which an older firn
// posted, go. gone is the index of one that is not there any more, or -1.
func (s *Surface) change(ctx context.Context, at string, ids []string, m message, how spread) (gone int, err error) {
	spare := len(ids) - 1
	for i, id := range ids {
		q := request{
			what: "change message " + id, path: "channels/" + at + "/messages/" + id,
			bucket: "channels/" + at + "/messages", repeat: true,
		}
		if i < spare {
			q.method, q.bucket = http.MethodDelete, q.bucket+" delete"
		} else {
			q.method, q.body, q.files, q.spread = http.MethodPatch, m, m.upload(), how
			q.bucket += " edit"
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
func (s *Surface) Follow(ctx context.Context, ref chat.Ref, c chat.Message) (chat.Ref, error) {
	at, ids, err := parseRef(ref)
	if err != nil {
		return "", err
	}
	card := ids[len(ids)-1]
	where, err := s.channel(ctx, at)
	if err != nil {
		return "", err
	}
	m, root := render(c, ""), s.at.root(card)
	if where.thread {
		root = s.at.root(at)
	}
	if where.guild != "" && !where.thread {
		thread, err := s.thread(ctx, at, card, threadName([]reply.Reply{c.Reply}, "", time.Now()))
		switch {
		case err == nil:
			at = thread
		case errors.Is(err, errNoThread):
			m.Reference = reference(at, card)
		default:
			return "", err
		}
	}
	return s.put(ctx, at, root, m)
}

func reference(channel, message string) *discordgo.MessageReference {
	must := false // the question may be deleted meanwhile
	return &discordgo.MessageReference{ChannelID: channel, MessageID: message, FailIfNotExists: &must}
}

// put posts the message of an answer that belongs to a conversation.
func (s *Surface) put(ctx context.Context, at, root string, m message) (chat.Ref, error) {
	where, id, err := s.post(ctx, at, m)
	if err != nil {
		return "", err
	}
	s.at.link(id, root)
	return refOf(where, id), nil
}

// post posts one message. The nonce makes it safe to send it again when no
// answer came: Discord gives the message that stands already, which may stand
// elsewhere.
func (s *Surface) post(ctx context.Context, at string, m message) (where, id string, err error) {
	m.EnforceNonce = true
	if m.Nonce == "" {
		m.Nonce = rand.Text()[:24]
	}
	if where, id, err = s.send(ctx, at, m, atOnce); err == nil {
		s.marks.put(id, "")
	}
	return where, id, err
}

// send posts a message; the outbox, which spreads its posts, makes sure of one by
// itself.
func (s *Surface) send(ctx context.Context, at string, m message, how spread) (where, id string, err error) {
	path := "channels/" + at + "/messages"
	var out discordgo.Message
	if err := s.api.call(ctx, request{what: "post to channel " + at, method: http.MethodPost, path: path, bucket: path, body: m, files: m.upload(), repeat: how == atOnce, spread: how}, &out); err != nil {
		return "", "", err
	}
	if out.ID == "" {
		return "", "", &fault{what: "post to channel " + at, text: "the answer cannot be read", err: errors.New("no id in it")}
	}
	if snowflake(out.ChannelID) {
		at = out.ChannelID
	}
	return at, out.ID, nil
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

// mostThreadName is what Discord takes (reference, "Start Thread from Message").
const mostThreadName = 100

// threadName says what a thread is about: where, by which procedure and by which
// record, not how cold: what follows in it may be of another temperature. Of what is
// no record, how cold and when it was.
func threadName(about []reply.Reply, text string, at time.Time) string {
	for _, r := range about {
		what := clean(r.Topic())
		if what == "" {
			continue
		}
		end := ""
		switch {
		case r.Record != nil && r.Record.ID != "":
			end = clean(r.Record.ID)
			if len(r.Arrivals) == 0 {
				what = clean(r.Where())
			}
		case !at.IsZero():
			end = at.UTC().Format("15:04Z")
		}
		return strings.TrimSpace(cut(what, mostThreadName-units(end)-1) + " " + end)
	}
	if name := clean(text); name != "" {
		return cut(name, mostThreadName)
	}
	return "firn"
}

// rewind makes a file readable again.
func rewind(f *discordgo.File) {
	if r, ok := f.Reader.(io.Seeker); ok {
		_, _ = r.Seek(0, io.SeekStart) // of bytes in memory
	}
}
