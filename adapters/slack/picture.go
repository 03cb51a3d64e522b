package slack

import (
	"bytes"
	"context"

	slackgo "github.com/slack-go/slack"

	"firn/bot/chat"
	"firn/bot/reply"
)

// mostAlt is how long the words for a picture may be: Slack's own limit for
// them in files.
const mostAlt = 1000

// files shows a card's pictures and files beside it: in its thread, in line in
// a direct message. The card counts; a picture that cannot be shown is a line
// in the log. Whoever asked for a file to keep reads that there is none.
func (s *Surface) files(ctx context.Context, at messageRef, c chat.Message) {
	a := address{at.channel, at.inThread()}
	if a.thread == "" && !direct(at.channel) {
		a.thread = at.ts
	}
	for _, p := range c.Pictures {
		if err := s.upload(ctx, a, p.Name, "picture.png", p.Alt, p.PNG); err != nil {
			s.log.WarnContext(ctx, "slack: a picture is not shown", "channel", a.channel, "picture", p.Name, "err", err)
		}
	}
	for _, f := range c.Files {
		err := s.upload(ctx, a, f.Name, "file", f.Alt, f.Data)
		if err == nil {
			continue
		}
		s.log.WarnContext(ctx, "slack: a file is not shown", "channel", a.channel, "file", f.Name, "err", err)
		sorry := chat.Message{Reply: reply.Refuse(reply.Problem{Text: "Slack did not take " + f.Name + "; ask for it again in a minute."})}
		if _, err := s.put(ctx, a, sorry, freshKey(), false); err != nil {
			s.log.WarnContext(ctx, "slack: that a file is missing is not shown", "channel", a.channel, "file", f.Name, "err", err)
		}
	}
}

func (s *Surface) upload(ctx context.Context, a address, name, otherwise, alt string, data []byte) error {
	if len(data) == 0 {
		return nil
	}
	if name = plainText(name); name == "" {
		name = otherwise
	}
	if alt = cut(plainText(alt), mostAlt); alt == "" {
		alt = name // Slack shows it to people who do not see the picture
	}
	return s.call(ctx, "files.completeUploadExternal", a.channel, func(ctx context.Context) error {
		_, err := s.api.UploadFileContext(ctx, slackgo.UploadFileParameters{
			Reader: bytes.NewReader(data), FileSize: len(data), Filename: name, Title: cut(alt, 255), AltTxt: alt,
			Channel: a.channel, ThreadTimestamp: a.thread,
		})
		return err
	})
}
