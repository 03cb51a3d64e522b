package slack_test

import (
	"strings"
	"testing"

	"firn/adapters/testkit/slackdouble"
	"firn/bot/testkit/sendertest"
)

func TestSender(t *testing.T) {
	sendertest.Run(t, func(t *testing.T) sendertest.Surface {
		d := double(t, nil)
		t.Cleanup(func() {
			for _, p := range d.Problems() {
				if !strings.Contains(p, "channel_not_found") {
					t.Errorf("Slack: %s", p)
				}
			}
		})
		return sendertest.Surface{
			Sender:   surface(t, d, nil),
			Channels: []string{"slack:" + crew, "slack:" + pia},
			Bad:      "slack:C0NONE",
			Text: func(_ *testing.T, channel string) string {
				id := strings.TrimPrefix(channel, "slack:")
				if strings.HasPrefix(id, "U") {
					id = d.Direct(id)
				}
				var b strings.Builder
				for _, m := range d.Posted(id) {
					b.WriteString(m.Read() + "\n")
				}
				return b.String()
			},
			Break:   func() { d.Fail(slackdouble.Fault{Status: 503}) },
			Secrets: []string{d.AppToken(), d.BotToken()},
		}
	})
}
