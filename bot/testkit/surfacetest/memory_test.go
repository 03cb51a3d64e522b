package surfacetest_test

import (
	"testing"

	"firn/bot/testkit/sendertest"
	"firn/bot/testkit/surfacetest"
)

func TestMemory(t *testing.T) {
	surfacetest.Run(t, func(*testing.T) surfacetest.Driver { return surfacetest.NewMemory("memory") })
}

func TestMemorySender(t *testing.T) {
	sendertest.Run(t, func(t *testing.T) sendertest.Surface {
		m := surfacetest.NewMemory("memory")
		return sendertest.Surface{
			Sender:   m.Sender(t),
			Channels: []string{"memory:C1", "memory:C2"},
			Text: func(t *testing.T, channel string) (text string) {
				for _, s := range m.Shown(t) {
					if channel == "" || "memory:"+s.Channel == channel {
						text += s.Text
					}
				}
				return text
			},
			Break:   func() { m.Break(t) },
			Secrets: m.Traits().Secrets,
		}
	})
}
