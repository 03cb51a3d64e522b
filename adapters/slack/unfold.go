package slack

import (
	"context"

	slackgo "github.com/slack-go/slack"

	"firn/bot/chat"
	"firn/bot/present"
	"firn/bot/reply"
)

// moreView is the modal that shows what lay behind More.
const moreView = "firn_more"

// Unfold shows a part to the event's person alone: in a modal, or where the
// trigger is used up in a message that only they see. Slack shows no file to
// one person in a channel, so that pictures and files go to their direct
// message.
func (s *Surface) Unfold(ctx context.Context, e chat.Event, p chat.Part) error {
	h := handleOf(e)
	blocks := p.Blocks
	files := len(p.Pictures)+len(p.Files) > 0
	if files && !direct(h.channel) {
		blocks = append(blocks[:len(blocks):len(blocks)], present.Line{Text: "It stands in your direct messages with firn."})
	}
	if err := s.show(ctx, e, p.Title, blocks); err != nil {
		return err
	}
	if !files {
		return nil
	}
	channel, err := s.direct(ctx, e.Person.ID)
	if err != nil {
		return s.Whisper(ctx, e, chat.Message{Reply: reply.Refuse(reply.Problem{Text: "Slack did not take it; ask for it again in a minute."})})
	}
	s.files(ctx, messageRef{channel: channel}, chat.Message{Pictures: p.Pictures, Files: p.Files})
	return nil
}

// show opens the modal, or whispers.
func (s *Surface) show(ctx context.Context, e chat.Event, title string, blocks []present.Block) error {
	h := handleOf(e)
	if h.trigger != "" {
		view := slackgo.ModalViewRequest{
			Type: slackgo.VTModal, CallbackID: moreView, Title: labelText(modalTitle(title), mostTitle), Close: labelText("Close", mostTitle),
			Blocks: slackgo.Blocks{BlockSet: viewBlocks("", blocks)},
		}
		err := s.call(ctx, "views.open", "", func(ctx context.Context) error {
			_, err := s.api.OpenViewContext(ctx, h.trigger, view)
			return err
		})
		if !usedUp(err) {
			return err
		}
	}
	list, all := drawn("", blocks, mostBlocks-1, messageText)
	if !all {
		list = append(list, slackgo.NewContextBlock("", markdown("There is more than fits here: open the menu again.")))
	}
	if len(list) == 0 {
		list = viewBlocks("", nil)
	}
	return s.whisper(ctx, e, message{blocks: list, text: escape(modalTitle(title))})
}

func modalTitle(title string) string {
	if title == "" || len([]rune(plainText(title))) > mostTitle {
		return "More"
	}
	return title
}

// usedUp says that a trigger opens nothing any more.
func usedUp(err error) bool {
	switch code(err) {
	case "expired_trigger_id", "exchanged_trigger_id", "trigger_expired", "trigger_exchanged", "invalid_trigger_id":
		return true
	}
	return false
}
