package discord

import (
	"context"
	"errors"
	"net/http"
	"time"

	"github.com/bwmarrin/discordgo"

	"firn/bot/chat"
)

// An interaction must be answered within 3 s, once, and the first answer
// decides whether everybody sees it. So it is answered with the card itself
// where that is ready in time, and is told that work goes on where it is not.
type interaction struct {
	s       *Surface
	id      string
	app     string
	token   string
	kind    discordgo.InteractionType
	channel string
	quiet   bool   // it was done on a card that the person alone sees
	root    string // of the conversation
	turn    chan struct{}
	state   state
}

// state is what became of an interaction.
type state uint8

const (
	fresh    state = iota
	pending        // told that work goes on; everybody sees that
	noted          // a press, acknowledged; nothing shows
	answered       // something stands there
)

// answerLimit is the longest that telling Discord of a wait may take.
const answerLimit = 3 * time.Second

func (s *Surface) onInteraction(i *discordgo.Interaction) {
	if i == nil || i.Data == nil {
		return
	}
	if i.Type == discordgo.InteractionApplicationCommandAutocomplete {
		s.take(func(ctx context.Context) { s.complete(ctx, i) })
		return
	}
	s.take(func(ctx context.Context) { s.interact(ctx, i) })
}

// interact turns an interaction into an event and hands it on.
func (s *Surface) interact(ctx context.Context, i *discordgo.Interaction) {
	in := &interaction{
		s: s, id: i.ID, app: i.AppID, token: i.Token, kind: i.Type, channel: i.ChannelID,
		turn: make(chan struct{}, 1),
	}
	e, err := s.eventOf(ctx, in, i)
	if err != nil {
		s.log.ErrorContext(ctx, "interaction not taken", "interaction", i.ID, "err", err)
		return
	}
	if !s.taker.Answers(s, e.Place) {
		s.taker.Handle(ctx, s, e) // which notes where that was
		return
	}
	if e.Kind == 0 {
		if back, ok := s.backOf(i); ok {
			if err := s.Open(ctx, e, back); err != nil {
				s.log.ErrorContext(ctx, "form not opened again", "interaction", i.ID, "err", err)
			}
			return
		}
		s.log.WarnContext(ctx, "interaction of an unknown form", "interaction", i.ID)
		in.end(ctx)
		return
	}
	if e.Kind == chat.Submitted {
		var f chat.Form
		if data, ok := i.Data.(discordgo.ModalSubmitInteractionData); ok {
			if f = s.sentForm(e, data.CustomID); f.Enter != nil {
				e.Fields[chat.FieldRecord] = f.Enter.Record
			}
		}
		if f.Problems = s.taker.Check(f); f.Problems != nil {
			if err := s.Open(ctx, e, f); err != nil {
				s.log.ErrorContext(ctx, "form not sent back", "interaction", i.ID, "err", err)
			}
			return
		}
	}
	if e.Kind != chat.FormRequested { // a form must be the first answer
		done := make(chan struct{})
		defer close(done)
		s.takes.Go(func() { in.wait(ctx, done) })
	}
	s.taker.Handle(ctx, s, e)
	in.end(ctx)
}

// eventOf reads an interaction. The kind is 0 for what is the surface's own.
func (s *Surface) eventOf(ctx context.Context, in *interaction, i *discordgo.Interaction) (chat.Event, error) {
	e := chat.Event{ID: i.ID, Person: personOf(i.Member, i.User), At: timeOf(i.ID), Handle: in, Alone: true}
	in.root = i.ID
	if i.Message != nil && i.Type == discordgo.InteractionMessageComponent {
		in.root = s.at.rootOf(i.Message, i.ChannelID)
		in.quiet = i.Message.Flags&discordgo.MessageFlagsEphemeral != 0
	}
	if i.GuildID == "" {
		e.Place = chat.Place{Channel: i.ChannelID, Direct: true}
		e.Person = s.outsideGuild(ctx, e.Person)
	} else {
		c, err := s.channel(ctx, i.ChannelID)
		if err != nil {
			return e, err
		}
		if c.thread {
			in.root = s.at.root(i.ChannelID)
			e.Place = chat.Place{Home: i.GuildID, Channel: c.parent, Thread: in.root}
		} else {
			e.Place = chat.Place{Home: i.GuildID, Channel: i.ChannelID, Begins: in.root}
		}
	}
	switch data := i.Data.(type) {
	case discordgo.ApplicationCommandInteractionData:
		bot := ""
		if me := s.self.Load(); me != nil {
			bot = me.user
		}
		e.Kind, e.Text = asked(data, bot)
	case discordgo.MessageComponentInteractionData:
		if data.CustomID == idForm {
			e.Kind = chat.FormRequested
			break
		}
		if entry, line, ok := chosen(data); ok {
			e.Kind, e.Text, e.Fields = chat.Unfolded, line, map[string]string{chat.FieldEntry: entry}
			if !in.quiet && i.Message != nil {
				e.Message = chat.Ref(i.ChannelID + "/" + i.Message.ID)
			}
			break
		}
		action, text, ok := pressed(data.CustomID, i.Message)
		switch {
		case !ok:
		case action == formAction:
			e.Kind, e.Text = chat.FormRequested, text
		default:
			e.Kind, e.Text = chat.Pressed, text
		}
		if ok && !in.quiet && i.Message != nil {
			e.Message = chat.Ref(i.ChannelID + "/" + i.Message.ID)
		}
	case discordgo.ModalSubmitInteractionData:
		e.Kind, e.Fields = chat.Submitted, filledIn(data)
	}
	return e, nil
}

// locked does something while nobody else answers.
func (in *interaction) locked(ctx context.Context, do func() error) error {
	select {
	case in.turn <- struct{}{}:
		defer func() { <-in.turn }()
		return do()
	case <-ctx.Done():
		return ctx.Err()
	}
}

// response is what a callback carries.
type response struct {
	Type discordgo.InteractionResponseType `json:"type"`
	Data any                               `json:"data,omitempty"`
}

// callback gives the first answer. Whether one that got no reply arrived is
// seen when it is given again: it is refused then.
func (in *interaction) callback(ctx context.Context, r response, files []*discordgo.File) (message string, err error) {
	var out struct {
		Resource struct {
			Message *discordgo.Message `json:"message"`
		} `json:"resource"`
	}
	q := request{
		what: "answer an interaction", method: http.MethodPost,
		path: "interactions/" + in.id + "/" + in.token + "/callback?with_response=true",
		body: r, files: files,
	}
	err = in.s.api.call(ctx, q, &out)
	if unclear(err) && ctx.Err() == nil {
		for _, f := range files {
			rewind(f)
		}
		again := in.s.api.call(ctx, q, &out)
		if codeOf(again) == codeAnswered {
			again = nil // the first had arrived
		}
		err = again
	}
	if err != nil {
		return "", err
	}
	if out.Resource.Message != nil {
		return out.Resource.Message.ID, nil
	}
	return "", nil
}

// original is the message that the first answer became.
func (in *interaction) original(ctx context.Context) (string, error) {
	var m discordgo.Message
	err := in.s.api.call(ctx, request{what: "look up an answer", method: http.MethodGet, path: in.hook() + "/messages/@original", repeat: true}, &m)
	return m.ID, err
}

func (in *interaction) hook() string { return "webhooks/" + in.app + "/" + in.token }

// show shows a message as the answer, or behind it. private: to the person
// alone.
func (in *interaction) show(ctx context.Context, m message, private bool) (id string, err error) {
	if private {
		m.Flags |= discordgo.MessageFlagsEphemeral
	}
	err = in.locked(ctx, func() error {
		switch in.state {
		case fresh:
			id, err = in.callback(ctx, response{discordgo.InteractionResponseChannelMessageWithSource, m}, m.upload())
			if codeOf(err) == codeAnswered && in.kind == discordgo.InteractionMessageComponent {
				in.state = noted // a press that came twice was acknowledged by the other
				break
			}
			if err != nil {
				return err
			}
			in.state = answered
			if id == "" && !private {
				id, err = in.original(ctx)
			}
			return err
		case pending:
			if private {
				// The first message behind a wait is seen by whoever saw the wait.
				if err := in.remove(ctx); err != nil {
					return err
				}
				break
			}
			var out discordgo.Message
			if err := in.s.api.call(ctx, request{what: "answer an interaction", method: http.MethodPatch, path: in.hook() + "/messages/@original", body: m, files: m.upload(), repeat: true}, &out); err != nil {
				return err
			}
			in.state, id = answered, out.ID
			return nil
		}
		var out discordgo.Message
		if err := in.s.api.call(ctx, request{what: "follow an interaction up", method: http.MethodPost, path: in.hook() + "?wait=true", body: m, files: m.upload()}, &out); err != nil {
			return err
		}
		in.state, id = answered, out.ID
		return nil
	})
	switch codeOf(err) {
	case codeUnknownInteraction, codeUnknownWebhook, codeInvalidWebhook:
		if private {
			return "", err
		}
		// Too late for the interaction, not for the answer.
		m.Flags = 0
		_, id, err = in.s.post(ctx, in.channel, m)
	}
	return id, err
}

// wait tells Discord that work goes on, if nothing was answered in time.
func (in *interaction) wait(ctx context.Context, done <-chan struct{}) {
	t := time.NewTimer(in.s.set.pauses.ack)
	defer t.Stop()
	select {
	case <-t.C:
	case <-done:
		return
	}
	ctx, cancel := context.WithTimeout(ctx, answerLimit)
	defer cancel()
	err := in.locked(ctx, func() error {
		if in.state != fresh {
			return nil
		}
		return in.note(ctx)
	})
	in.failed(ctx, "wait not told", err)
}

func (in *interaction) note(ctx context.Context) error {
	r, after := response{Type: discordgo.InteractionResponseDeferredChannelMessageWithSource}, pending
	switch {
	case in.kind == discordgo.InteractionMessageComponent:
		r.Type, after = discordgo.InteractionResponseDeferredMessageUpdate, noted
	case in.quiet:
		r.Data = map[string]any{"flags": discordgo.MessageFlagsEphemeral}
	}
	_, err := in.callback(ctx, r, nil)
	if err == nil {
		in.state = after
	}
	return err
}

// end is called when the event has been taken: a press is acknowledged, and a
// wait that nothing follows is taken back.
func (in *interaction) end(ctx context.Context) {
	ctx, cancel := context.WithTimeout(ctx, answerLimit)
	defer cancel()
	err := in.locked(ctx, func() error {
		switch {
		case in.state == fresh && in.kind == discordgo.InteractionMessageComponent:
			return in.note(ctx)
		case in.state == pending:
			return in.remove(ctx)
		}
		return nil
	})
	in.failed(ctx, "interaction not ended", err)
}

// remove takes the sign of a wait away.
func (in *interaction) remove(ctx context.Context) error {
	err := in.s.api.call(ctx, request{what: "take a wait back", method: http.MethodDelete, path: in.hook() + "/messages/@original", repeat: true}, nil)
	if err == nil || codeOf(err) == codeUnknownMessage {
		in.state, err = answered, nil
	}
	return err
}

func (in *interaction) failed(ctx context.Context, what string, err error) {
	switch {
	case err == nil:
	case codeOf(err) == codeAnswered, errors.Is(err, context.Canceled):
		// It came twice, and the other has answered.
		in.s.log.DebugContext(ctx, what, "interaction", in.id, "err", err)
	default:
		in.s.log.WarnContext(ctx, what, "interaction", in.id, "err", err)
	}
}
