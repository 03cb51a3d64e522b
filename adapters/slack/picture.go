package slack

import (
	"bytes"
	"context"

	slackgo "github.com/slack-go/slack"

	"firn/bot/chat"
)

// mostAlt is how long the words for a picture may be: Slack's own limit for
// them in files.
const mostAlt = 1000

// pictures shows pictures beside a card: in its thread, in line in a direct
// message. The card counts; a picture that cannot be shown is a line in the
// log.
func (s *Surface) pictures(ctx context.Context, at spot, list []chat.Picture) {
	a := address{at.channel, at.inThread()}
	if a.thread == "" && !direct(at.channel) {
		a.thread = at.ts
	}
	for _, p := range list {
		if len(p.PNG) == 0 {
			continue
		}
		name, alt := plainText(p.Name), cut(plainText(p.Alt), mostAlt)
		if name == "" {
			name = "picture.png"
		}
		if alt == "" {
			alt = name // Slack shows it to people who do not see the picture
		}
		err := s.call(ctx, "files.completeUploadExternal", a.channel, func(ctx context.Context) error {
			_, err := s.api.UploadFileContext(ctx, slackgo.UploadFileParameters{
				Reader: bytes.NewReader(p.PNG), FileSize: len(p.PNG), Filename: name, Title: cut(alt, 255), AltTxt: alt,
				Channel: a.channel, ThreadTimestamp: a.thread,
			})
			return err
		})
		if err != nil {
			s.log.WarnContext(ctx, "slack: a picture is not shown", "channel", a.channel, "picture", name, "err", err)
		}
	}
}
