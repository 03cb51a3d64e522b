package slack

import (
	"cmp"
	"context"
	"maps"
	"strings"

	slackgo "github.com/slack-go/slack"

	"firn/bot"
	"firn/bot/chat"
)

// What this surface calls its buttons, forms and shortcuts at Slack; the
// manifest names the shortcuts too.
const (
	doAction       = "do:"          // + the id of a reply.Action
	moreAction     = "more:"        // + the line that asks for the card's reply again: its menu
	formAction     = "form:open"    // opens the form; its value prefills it
	formView       = "firn_form"    // the form, and the shortcut that opens it
	enterView      = "firn_enter"   // the form of a blind check
	correctMessage = "firn_correct" // the shortcut of a message
)

// interaction takes a press, a form, a shortcut or the typing in a select. It
// gives what to acknowledge with, and what to do once that is on its way.
func (s *Surface) interaction(ctx context.Context, ic slackgo.InteractionCallback) (answer any, then func()) {
	switch ic.Type {
	case slackgo.InteractionTypeBlockSuggestion:
		return s.suggest(ic), nil
	case slackgo.InteractionTypeViewSubmission:
		return s.submitted(ctx, ic)
	case slackgo.InteractionTypeBlockActions:
		return nil, func() { s.pressed(ctx, ic) }
	case slackgo.InteractionTypeMessageAction:
		return nil, func() { s.shortcut(ctx, ic) }
	case slackgo.InteractionTypeShortcut:
		return nil, func() {
			e := s.interactionEvent(ic, chat.FormRequested)
			s.hand(ctx, e, s.toDirect)
		}
	}
	return nil, nil
}

// interactionEvent is what all interactions have.
func (s *Surface) interactionEvent(ic slackgo.InteractionCallback, k chat.Kind) chat.Event {
	channel := cmp.Or(ic.Channel.ID, ic.Container.ChannelID)
	team := cmp.Or(ic.Team.ID, ic.User.TeamID)
	return chat.Event{
		ID: string(ic.Type) + "/" + ic.TriggerID, Kind: k,
		Place:  chat.Place{Home: s.home(team), Channel: channel, Direct: channel == "" || direct(channel)},
		Person: chat.Person{ID: ic.User.ID, Name: ic.User.Name}, At: s.eventTime(ic.ActionTs), Alone: true,
		Handle: &handle{channel: channel, trigger: ic.TriggerID, response: ic.ResponseURL},
	}
}

// pressed hands a press of a button, or the choice in a menu, on.
func (s *Surface) pressed(ctx context.Context, ic slackgo.InteractionCallback) {
	if len(ic.ActionCallback.BlockActions) == 0 {
		return
	}
	b := ic.ActionCallback.BlockActions[0]
	kind := chat.Pressed
	line, more := strings.CutPrefix(b.ActionID, moreAction)
	switch {
	case more:
		kind = chat.Unfolded
	case b.ActionID == formAction:
		kind = chat.FormRequested
	case !strings.HasPrefix(b.ActionID, doAction):
		return // the select of the form tells of each choice
	}
	e := s.interactionEvent(ic, kind)
	if e.Text = b.Value; more {
		e.Text, e.Fields = line, map[string]string{chat.FieldEntry: b.SelectedOption.Value}
	}
	if e.Kind != chat.FormRequested && b.ActionTs != "" {
		e.At = s.eventTime(b.ActionTs)
	}
	h := e.Handle.(*handle)
	ts := cmp.Or(ic.Message.Timestamp, ic.Container.MessageTs)
	thread := cmp.Or(ic.Message.ThreadTimestamp, ic.Container.ThreadTs)
	card := messageRef{h.channel, ts, thread}
	switch {
	case ic.Container.Type == "view" || h.channel == "":
		s.hand(ctx, e, s.toDirect)
		return
	case ic.Container.IsEphemeral:
		h.private, h.thread = true, thread
	default:
		h.thread = card.inThread()
		e.Message = card.ref()
		if h.thread == "" && !e.Place.Direct {
			h.thread = ts
			e.Place.Begins = s.threadName(h.channel, ts)
		}
	}
	e.Place.Thread = s.threadName(h.channel, card.inThread())
	if !e.Place.Direct && !h.private && s.answers(e.Place) {
		s.follow(h.channel, h.thread)
	}
	s.hand(ctx, e, nil)
}

// toDirect moves an event that has no channel to the direct message with its
// person.
func (s *Surface) toDirect(ctx context.Context, e *chat.Event) bool {
	h := e.Handle.(*handle)
	e.Place.Direct = true
	if h.channel != "" {
		return true
	}
	channel, err := s.direct(ctx, e.Person.ID)
	if err != nil {
		// A form can still be opened; an answer will say that it cannot.
		s.log.WarnContext(ctx, "slack: no direct message", "user", e.Person.ID, "err", err)
	}
	h.channel, e.Place.Channel = channel, channel
	return true
}

// shortcut asks about a message as if it were to the bot. Its answer stands
// under that message, and the message's own answer, if it has one, stays.
func (s *Surface) shortcut(ctx context.Context, ic slackgo.InteractionCallback) {
	if ic.CallbackID != correctMessage {
		return
	}
	e := s.interactionEvent(ic, chat.MessagePosted)
	h := e.Handle.(*handle)
	at := messageRef{h.channel, ic.Message.Timestamp, ic.Message.ThreadTimestamp}
	if at.ts == "" {
		at.ts = ic.MessageTs
	}
	e.Text = heardText(ic.Message.Text, s.me().user)
	h.thread = at.inThread()
	e.Place.Thread = s.threadName(h.channel, h.thread)
	if h.thread == "" && !e.Place.Direct {
		h.thread, e.Place.Begins = at.ts, s.threadName(h.channel, at.ts)
	}
	if !e.Place.Direct && s.answers(e.Place) {
		s.follow(h.channel, h.thread)
	}
	s.hand(ctx, e, nil)
}

// offered is how many choices a select takes.
const offered = 100

// suggest gives the stations for what was typed so far.
func (s *Surface) suggest(ic slackgo.InteractionCallback) any {
	r := slackgo.OptionsResponse{Options: []*slackgo.OptionBlockObject{}}
	taker := s.taker.Load()
	if taker == nil {
		return r
	}
	for _, c := range (*taker).Stations(ic.Value, offered) {
		r.Options = append(r.Options, option(c))
	}
	// What is not in the list may still be typed ("elev 4802"): the dispatcher says
	// whether it can be used.
	if typed := strings.TrimSpace(ic.Value); len(r.Options) == 0 && typed != "" {
		r.Options = append(r.Options, option(bot.Offer{Value: typed, Label: typed + " (as typed)"}))
	}
	if len(r.Options) == 0 {
		return map[string]any{"options": []any{}}
	}
	return r
}

func option(c bot.Offer) *slackgo.OptionBlockObject {
	label := cmp.Or(c.Label, c.Value)
	return slackgo.NewOptionBlockObject(cut(shown(c.Value), 75), labelText(label, 75), nil)
}

// submitted checks a form within its acknowledgement: what is wrong stands
// beside the field, and the form stays open.
func (s *Surface) submitted(ctx context.Context, ic slackgo.InteractionCallback) (answer any, then func()) {
	if ic.View.CallbackID == confirmView {
		return nil, s.confirmed(ctx, ic)
	}
	if ic.View.CallbackID != formView && ic.View.CallbackID != enterView {
		return nil, nil
	}
	fields := fieldsOf(ic.View.State)
	at := readRoute(ic.View.PrivateMetadata)
	filled := chat.Form{
		Station: fields[chat.FieldStation], Temperature: fields[chat.FieldTemperature], Altitudes: fields[chat.FieldAltitudes],
	}
	if ic.View.CallbackID == enterView {
		filled, fields[chat.FieldRecord] = enteredOf(at, fields), at.Record
	}
	if taker := s.taker.Load(); taker != nil {
		if problems := (*taker).Check(filled); len(problems) > 0 {
			return slackgo.NewErrorsViewSubmissionResponse(beside(problems, filled)), nil
		}
	}
	e := s.interactionEvent(ic, chat.Submitted)
	e.ID = "form/" + ic.View.ID + "/" + ic.View.Hash
	e.At = s.opts.Now()
	e.Fields = fields
	h := e.Handle.(*handle)
	h.channel, h.thread, h.response, h.private = at.Channel, at.Thread, at.Response, at.Private
	e.Place = chat.Place{Home: e.Place.Home, Channel: at.Channel, Direct: at.Channel == "" || direct(at.Channel) || at.Direct, Thread: s.threadName(at.Channel, at.Thread)}
	if !e.Place.Direct && at.Thread == "" {
		e.Place.Begins, h.begins = "form-"+ic.View.ID, "form-"+ic.View.ID
	}
	return nil, func() {
		if h.channel == "" {
			s.hand(ctx, e, s.toDirect)
			return
		}
		s.hand(ctx, e, nil)
	}
}

// beside puts problems where Slack can show them: it takes only names of
// fields that are there.
func beside(problems map[string]string, f chat.Form) map[string]string {
	out := map[string]string{}
	for field, text := range maps.All(problems) {
		switch field {
		case chat.FieldStation, chat.FieldTemperature, chat.FieldAltitudes:
		default:
			if f.Enter == nil {
				field = chat.FieldAltitudes
			}
		}
		if have := out[field]; have != "" {
			text = have + " " + text
		}
		out[field] = cut(shown(text), 2000)
	}
	return out
}

// fieldsOf reads a form.
func fieldsOf(st *slackgo.ViewState) map[string]string {
	fields := map[string]string{}
	if st == nil {
		return fields
	}
	for field, elements := range st.Values {
		for _, v := range elements {
			if v.SelectedOption.Value != "" {
				fields[field] = v.SelectedOption.Value
			} else {
				fields[field] = v.Value
			}
		}
	}
	return fields
}
