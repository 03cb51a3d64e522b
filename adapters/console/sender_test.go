package console_test

import (
	"bytes"
	"context"
	"errors"
	"io"
	"strings"
	"testing"
	"time"

	"firn/adapters/console"
	"firn/bot/outbox"
	"firn/bot/reply"
	"firn/bot/testkit/sendertest"
)

// screen is a writer that can break.
type screen struct {
	text   bytes.Buffer
	broken bool
}

var errGone = errors.New("the screen is gone")

func (s *screen) Write(b []byte) (int, error) {
	if s.broken {
		return 0, errGone
	}
	return s.text.Write(b)
}

func (s *screen) String() string { return s.text.String() }

func TestSender(t *testing.T) {
	sendertest.Run(t, func(t *testing.T) sendertest.Surface {
		s := &screen{}
		return sendertest.Surface{
			Sender:   console.NewSender(s, console.Style{}),
			Channels: []string{"console", "console:2"},
			Text:     func(*testing.T, string) string { return s.String() },
			Break:    func() { s.broken = true },
		}
	})
}

func post(key string, facts ...string) outbox.Post {
	return outbox.Post{Key: key, Channel: "console", Body: reply.Reply{Kind: reply.KindStatus, Facts: facts}}
}

func send(t *testing.T, s *console.Sender, p outbox.Post) {
	t.Helper()
	if _, err := s.Send(t.Context(), p); err != nil {
		t.Fatalf("Send(%q) = %v", p.Key, err)
	}
}

func TestSenderPrints(t *testing.T) {
	late := post("b/1", "Cold at XKLD.")
	late.Late = 47 * time.Minute
	hostile := post("c/1", "Red \x1b[31mtext\x1b]0;title\a and \u202eback\u2069, \x9b2J.")
	for _, c := range []struct {
		name  string
		post  outbox.Post
		style console.Style
		want  string
	}{
		{"in time", post("a/1", "Cold at XKLD."), console.Style{}, "Cold at XKLD.\n\n"},
		{"late", late, console.Style{}, "(late by 47 min)\nCold at XKLD.\n\n"},
		{"a terminal's codes in the text", hostile, console.Style{}, "Red [31mtext]0;title and back, \uFFFD2J.\n\n"},
		{"our own codes", outbox.Post{Key: "d/1", Channel: "console", Body: reply.Ask(reply.Problem{Text: "Which base?"})}, console.Style{Colour: true}, "\x1b[1mWhich\x1b[0m base?\n\n"},
	} {
		t.Run(c.name, func(t *testing.T) {
			var b bytes.Buffer
			send(t, console.NewSender(&b, c.style), c.post)
			got := b.String()
			if c.style.Colour {
				if !strings.Contains(got, "\x1b[1m") || !strings.Contains(got, "\x1b[0m") {
					t.Errorf("printed %q without the codes for emphasis", got)
				}
				return
			}
			if got != c.want {
				t.Errorf("printed %q, want %q", got, c.want)
			}
		})
	}
}

func TestSenderPrintsAKeyOnce(t *testing.T) {
	var b bytes.Buffer
	s := console.NewSender(&b, console.Style{})
	send(t, s, post("a/1", "Cold."))
	send(t, s, post("a/1", "Cold."))
	if got := strings.Count(b.String(), "Cold."); got != 1 {
		t.Errorf("printed %d times, want once", got)
	}
}

// A post that could not be printed is not remembered, so the next attempt
// prints it.
func TestSenderForgetsWhatFailed(t *testing.T) {
	s := &screen{broken: true}
	sender := console.NewSender(s, console.Style{})
	if _, err := sender.Send(t.Context(), post("a/1", "Cold.")); !errors.Is(err, errGone) {
		t.Fatalf("Send on a broken screen = %v, want %v", err, errGone)
	}
	if _, found, err := sender.Find(context.Background(), "console", "a/1"); found || err != nil {
		t.Errorf("Find after a failure = %v, %v; want not found", found, err)
	}
	s.broken = false
	send(t, sender, post("a/1", "Cold."))
	if got := s.String(); got != "Cold.\n\n" {
		t.Errorf("printed %q", got)
	}
}

func TestShareKeepsWritesWhole(t *testing.T) {
	var b bytes.Buffer
	out := console.Share(&b)
	s := console.NewSender(out, console.Style{})
	const n = 50
	done := make(chan struct{})
	go func() {
		defer close(done)
		for range n {
			if _, err := io.WriteString(out, "log line\n"); err != nil {
				t.Error(err)
			}
		}
	}()
	for i := range n {
		send(t, s, post("a/"+strings.Repeat("i", i+1), "One fact.", "Another."))
	}
	<-done
	rest := strings.ReplaceAll(b.String(), "log line\n", "")
	if want := strings.Repeat("One fact.\nAnother.\n\n", n); rest != want {
		t.Errorf("posts and log lines are mixed: %q", rest)
	}
}
