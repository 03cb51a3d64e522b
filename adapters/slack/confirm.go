package slack

import (
	"context"

	slackgo "github.com/slack-go/slack"

	"firn/bot/chat"
	"firn/bot/present"
)

// confirmView is the modal that asks whether figures are right before they are
// checked.
const confirmView = "firn_confirm"

// Confirm shows the figures that are asked about in a modal, whose button says
// yes. An event that opens none has the error.
func (s *Surface) Confirm(ctx context.Context, e chat.Event, c chat.Message) error {
	h := handleOf(e)
	if h.trigger == "" || len(c.Reply.Actions) != 1 {
		return errNoTrigger
	}
	yes := c.Reply.Actions[0]
	at := replyRoute{
		Channel: h.channel, Thread: h.thread, Direct: e.Place.Direct, Private: h.private, Response: h.response,
		Card: string(e.Message), Yes: yes.Message,
	}
	view := slackgo.ModalViewRequest{
		Type: slackgo.VTModal, CallbackID: confirmView, PrivateMetadata: at.String(),
		Title:  labelText("Check these figures", mostTitle),
		Submit: labelText(yes.Label, mostTitle),
		Close:  labelText("Cancel", mostTitle),
		Blocks: slackgo.Blocks{BlockSet: viewBlocks(c.Note, present.Of(c.Reply).Short)},
	}
	return s.call(ctx, "views.open", "", func(ctx context.Context) error {
		_, err := s.api.OpenViewContext(ctx, h.trigger, view)
		return err
	})
}

// confirmed hands on that the modal's button was pressed, as a press of the card
// that it was opened from.
func (s *Surface) confirmed(ctx context.Context, ic slackgo.InteractionCallback) (then func()) {
	at := readRoute(ic.View.PrivateMetadata)
	e := s.interactionEvent(ic, chat.Pressed)
	e.ID, e.At = "form/"+ic.View.ID+"/"+ic.View.Hash, s.opts.Now()
	e.Text, e.Message = at.Yes, chat.Ref(at.Card)
	h := e.Handle.(*handle)
	h.channel, h.thread, h.response, h.private, h.trigger = at.Channel, at.Thread, at.Response, at.Private, ""
	e.Place = chat.Place{Home: e.Place.Home, Channel: at.Channel, Direct: at.Channel == "" || direct(at.Channel) || at.Direct, Thread: s.threadName(at.Channel, at.Thread)}
	return func() {
		if h.channel == "" {
			s.hand(ctx, e, s.toDirect)
			return
		}
		s.hand(ctx, e, nil)
	}
}
