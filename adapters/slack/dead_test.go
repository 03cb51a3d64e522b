package slack_test

import (
	"context"
	"strings"
	"sync"
	"testing"
	"time"

	"firn/adapters/testkit/slackdouble"
	"firn/bot"
	"firn/bot/chat"
	"firn/bot/reply"
)

// holder takes events and answers when it is let.
type holder struct {
	mu     sync.Mutex
	events []chat.Event
	let    chan struct{}
}

func (h *holder) Handle(ctx context.Context, s chat.Surface, e chat.Event) {
	h.mu.Lock()
	h.events = append(h.events, e)
	h.mu.Unlock()
	select {
	case <-h.let:
	case <-ctx.Done():
	}
}

func (h *holder) Check(chat.Form) map[string]string { return nil }
func (h *holder) Stations(string, int) []bot.Offer  { return nil }
func (h *holder) Offers(context.Context, chat.Surface, chat.Event, string, int) []bot.Offer {
	return nil
}
func (h *holder) Answers(chat.Surface, chat.Place) bool { return true }
func (h *holder) heard() []chat.Event {
	h.mu.Lock()
	defer h.mu.Unlock()
	return append([]chat.Event(nil), h.events...)
}

// TestAcknowledgedWhenAnswered: a message is acknowledged once it was taken,
// so that Slack sends it to another process when this one dies over it; one
// that takes long is acknowledged in time.
func TestAcknowledgedWhenAnswered(t *testing.T) {
	d := double(t, func(o *slackdouble.Options) { o.Events = []string{"app_mention", "message.im"} })
	h := &holder{let: make(chan struct{})}
	run(t, surface(t, d, nil), h)
	ask := func(n int) {
		t.Helper()
		if _, err := d.Say(slackdouble.Said{User: kari, Channel: crew, Text: d.Mention() + " XKLD -38 8200"}); err != nil {
			t.Fatal(err)
		}
		eventually(t, "the message is heard", func() bool { return len(h.heard()) == n })
	}
	ask(1)
	if d.Unacknowledged() != 1 {
		t.Error("a message was acknowledged before it was taken")
	}
	eventually(t, "it is acknowledged in time", func() bool { return d.Unacknowledged() == 0 })
	if slowest, _ := d.SlowestAck(); slowest > 2500*time.Millisecond {
		t.Errorf("that took %v", slowest)
	}
	ask(2)
	d.Cut()
	eventually(t, "Slack sends it again", func() bool { return len(h.heard()) == 3 })
	if got := h.heard(); got[1].Again || !got[2].Again || got[1].ID != got[2].ID {
		t.Errorf("heard %+v", got)
	} else if !got[1].Paired || got[1].Sole || got[2].Paired || got[2].Sole {
		t.Errorf("a mention is told twice, and one that is told again may have been told another process: %+v", got)
	}
	if _, err := d.Say(slackdouble.Said{User: kari, Channel: d.Direct(kari), Text: "XKLD -38 8200"}); err != nil {
		t.Fatal(err)
	}
	eventually(t, "the direct message is heard", func() bool { return len(h.heard()) == 4 })
	if got := h.heard()[3]; !got.Sole || got.Paired {
		t.Errorf("a direct message is told one process alone: %+v", got)
	}
	close(h.let)
	eventually(t, "both are acknowledged", func() bool { return d.Unacknowledged() == 0 })
}

// TestAnswerStands: what a process that died has posted is not posted again.
func TestAnswerStands(t *testing.T) {
	d := double(t, nil)
	h := &holder{let: make(chan struct{})}
	close(h.let)
	dead, alive := surface(t, d, nil), surface(t, d, nil)
	run(t, dead, h)
	if _, err := d.Say(slackdouble.Said{User: kari, Channel: crew, Text: d.Mention() + " XKLD -38 8200"}); err != nil {
		t.Fatal(err)
	}
	eventually(t, "the message is heard", func() bool { return len(h.heard()) > 0 })
	e := h.heard()[0]
	long := strings.Repeat("A line that makes the card one of several messages, as a long log is. ", 300)
	for _, c := range []struct {
		name  string
		facts []string
	}{{"short", []string{"Short."}}, {"long", []string{long, long}}} {
		t.Run(c.name, func(t *testing.T) {
			e := e
			e.ID += c.name
			card := chat.Message{Reply: reply.Reply{Kind: reply.KindNotice, Facts: c.facts}}
			first, err := dead.Answer(t.Context(), e, card)
			if err != nil {
				t.Fatal(err)
			}
			n := len(d.Posted(crew))
			e.Again = true
			second, err := alive.Answer(t.Context(), e, card)
			if err != nil {
				t.Fatal(err)
			}
			if first != second || len(d.Posted(crew)) != n {
				t.Errorf("%s and %s, %d messages, want %d", first, second, len(d.Posted(crew)), n)
			}
			e.ID += "/never"
			if _, err := alive.Answer(t.Context(), e, card); err != nil || len(d.Posted(crew)) == n {
				t.Errorf("what stands nowhere was not posted: %v", err)
			}
		})
	}
}
