package sendertest

import (
	"context"
	"fmt"
	"strings"
	"sync"
	"testing"
	"time"

	"firn/bot/outbox"
	"firn/bot/reply"
)

// Surface is a fresh surface with nothing posted to it.
type Surface struct {
	Sender   outbox.Sender
	Channels []string // two that can be posted to
	// Bad is a channel of this surface to which nothing can ever be posted;
	// empty where there is none.
	Bad string
	// Text is everything that stands on a channel, or on the surface.
	Text func(t *testing.T, channel string) string
	// Break makes every call fail from now on, as an outage does; nil where
	// that cannot be had.
	Break func()
	// Secrets are what no error may hold: tokens, passwords, addresses that
	// contain them.
	Secrets []string
}

// Run runs the suite; fresh makes a surface for each test.
func Run(t *testing.T, fresh func(t *testing.T) Surface) {
	for _, c := range []struct {
		name string
		test func(*testing.T, Surface)
	}{
		{"what was sent is found", sent},
		{"what was not sent is not found", unknown},
		{"keys are exact", exact},
		{"the same key on two channels is two posts", channels},
		{"many at once", many},
		{"a context that has ended", ended},
		{"a late post says so", late},
		{"odd text", odd},
		{"a channel that cannot be", bad},
		{"an outage", outage},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := fresh(t)
			if s.Sender == nil || len(s.Channels) < 2 || s.Channels[0] == s.Channels[1] || s.Text == nil {
				t.Fatal("the surface needs a sender, two channels and its text")
			}
			c.test(t, s)
		})
	}
}

// key is the form that keys have in life.
func key(n int) string { return fmt.Sprintf("alert/XKLD/2026-01-15/%d", n) }

func post(channel, key string, facts ...string) outbox.Post {
	return outbox.Post{Key: key, Channel: channel, Body: reply.Reply{Kind: reply.KindStatus, Facts: facts}}
}

func (s *Surface) send(t *testing.T, p outbox.Post) (ref string) {
	t.Helper()
	ref, err := s.Sender.Send(t.Context(), p)
	if err != nil {
		t.Fatalf("Send(%q to %q) = %v", p.Key, p.Channel, err)
	}
	if ref == "" {
		t.Errorf("Send(%q to %q) gave no reference", p.Key, p.Channel)
	}
	return ref
}

func (s *Surface) finds(t *testing.T, channel, key string, want bool) (ref string) {
	t.Helper()
	ref, found, err := s.Sender.Find(t.Context(), channel, key)
	if err != nil || found != want {
		t.Errorf("Find(%q, %q) = %v, %v; want %v", channel, key, found, err, want)
	}
	if found && ref == "" {
		t.Errorf("Find(%q, %q) gave no reference", channel, key)
	}
	return ref
}

func (s *Surface) count(t *testing.T, channel, text string, want int) {
	t.Helper()
	if got := strings.Count(s.Text(t, channel), text); got != want {
		t.Errorf("%q stands %d times on %q, want %d", text, got, channel, want)
	}
}

func sent(t *testing.T, s Surface) {
	ref := s.send(t, post(s.Channels[0], key(1), "Cold at XKLD."))
	if got := s.finds(t, s.Channels[0], key(1), true); got != ref {
		t.Errorf("Find gave the reference %q, Send %q", got, ref)
	}
	s.count(t, s.Channels[0], "Cold at XKLD.", 1)
}

func unknown(t *testing.T, s Surface) {
	s.finds(t, s.Channels[0], key(1), false)
	s.send(t, post(s.Channels[0], key(2), "Cold at XKLD."))
	s.finds(t, s.Channels[0], key(1), false)
}

// exact shows that a key is not found by a part of it, nor by one that continues it, nor in
// the text of another post.
func exact(t *testing.T, s Surface) {
	s.send(t, post(s.Channels[0], key(10), "Not "+key(3)+"."))
	for _, k := range []string{key(1), key(100), strings.ToUpper(key(10)), key(10) + " ", key(3)} {
		s.finds(t, s.Channels[0], k, false)
	}
	s.finds(t, s.Channels[0], key(10), true)
}

func channels(t *testing.T, s Surface) {
	s.send(t, post(s.Channels[0], key(1), "First channel."))
	s.finds(t, s.Channels[1], key(1), false)
	s.send(t, post(s.Channels[1], key(1), "Second channel."))
	for i, text := range []string{"First channel.", "Second channel."} {
		s.finds(t, s.Channels[i], key(1), true)
		s.count(t, s.Channels[i], text, 1)
	}
}

func many(t *testing.T, s Surface) {
	const n = 24
	var wg sync.WaitGroup
	for i := range n {
		wg.Go(func() {
			p := post(s.Channels[i%2], key(i), fmt.Sprintf("Post number %d.", i))
			if _, err := s.Sender.Send(t.Context(), p); err != nil {
				t.Errorf("Send(%q) = %v", p.Key, err)
				return
			}
			if _, found, err := s.Sender.Find(t.Context(), p.Channel, p.Key); err != nil || !found {
				t.Errorf("Find(%q) = %v, %v; want found", p.Key, found, err)
			}
		})
	}
	wg.Wait()
	for i := range n {
		s.count(t, s.Channels[i%2], fmt.Sprintf("Post number %d.", i), 1)
	}
}

func ended(t *testing.T, s Surface) {
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := s.Sender.Send(ctx, post(s.Channels[0], key(1), "Cold at XKLD.")); err == nil {
		t.Error("Send with a context that has ended succeeded")
	} else if outbox.IsPermanent(err) {
		t.Errorf("Send with a context that has ended: %v is permanent", err)
	}
	if _, _, err := s.Sender.Find(ctx, s.Channels[0], key(1)); err == nil {
		t.Error("Find with a context that has ended succeeded")
	}
	s.finds(t, s.Channels[0], key(1), false)
	s.count(t, s.Channels[0], "Cold at XKLD.", 0)
}

func late(t *testing.T, s Surface) {
	p := post(s.Channels[0], key(1), "Cold at XKLD.")
	p.Late = 47 * time.Minute
	s.send(t, p)
	s.count(t, s.Channels[0], p.Lateness(), 1)
	s.send(t, post(s.Channels[0], key(2), "Cold at XKLE."))
	s.count(t, s.Channels[0], "late by", 1)
}

func odd(t *testing.T, s Surface) {
	long := strings.Repeat("Long words about the cold. ", 2000)
	rows := make([]reply.Row, 60)
	for i := range rows {
		rows[i] = reply.Row{Label: "step", Segment: "intermediate", PublishedFt: float64(1000 + i), CorrectedFt: float64(1100 + i), Why: "its own height"}
	}
	for i, c := range []struct {
		name string
		body reply.Reply
	}{
		{"nothing", reply.Reply{Kind: reply.KindStatus}},
		{"a very long fact", reply.Reply{Kind: reply.KindStatus, Facts: []string{long}}},
		{"many facts", reply.Reply{Kind: reply.KindStatus, Facts: strings.SplitAfter(long, ". ")}},
		{"many rows", reply.Reply{Kind: reply.KindCorrection, Altitudes: rows}},
		{"line ends and controls", reply.Reply{Kind: reply.KindStatus, Facts: []string{"a\nb\r\nc\x00\x1b[2J\u2028\u202e"}}},
		{"not UTF-8", reply.Reply{Kind: reply.KindStatus, Facts: []string{"\xff\xfe −20 °C \xed\xa0\x80"}}},
		{"what services read as marks", reply.Reply{Kind: reply.KindStatus, Facts: []string{"<!channel> @everyone <@U1> & `x` *y* ~z~ </script> \\ \" '"}}},
		{"a question", reply.Ask(reply.Problem{Text: "Which base?", Try: "XKLD -38"})},
	} {
		t.Run(c.name, func(t *testing.T) {
			s.send(t, outbox.Post{Key: key(i), Channel: s.Channels[0], Body: c.body})
			s.finds(t, s.Channels[0], key(i), true)
		})
	}
	for _, k := range []string{"no number", "x", `with "quotes" and \`, "zwölf/−1/❄", "a b/c\td/3", strings.Repeat("long/", 100) + "1"} {
		t.Run("key "+k[:min(len(k), 12)], func(t *testing.T) {
			s.finds(t, s.Channels[0], k, false)
			s.send(t, post(s.Channels[0], k, "Cold."))
			s.finds(t, s.Channels[0], k, true)
		})
	}
}

func bad(t *testing.T, s Surface) {
	if s.Bad == "" {
		return // such a surface posts to any channel that it is given
	}
	_, err := s.Sender.Send(t.Context(), post(s.Bad, key(1), "Cold."))
	if err == nil || !outbox.IsPermanent(err) {
		t.Errorf("Send to %q = %v, want a permanent error", s.Bad, err)
	}
	s.keepsSecrets(t, err)
}

func outage(t *testing.T, s Surface) {
	if s.Break == nil {
		return // nothing can stand between it and its posts
	}
	s.Break()
	_, err := s.Sender.Send(t.Context(), post(s.Channels[0], key(1), "Cold."))
	if err == nil {
		t.Error("Send during an outage succeeded")
	} else if outbox.IsPermanent(err) {
		t.Errorf("Send during an outage: %v is permanent", err)
	}
	s.keepsSecrets(t, err)
	// A surface that remembers may answer; one that has to ask must not say
	// that nothing is there.
	_, found, err := s.Sender.Find(t.Context(), s.Channels[0], key(1))
	if found {
		t.Error("Find found a post that could not be sent")
	}
	s.keepsSecrets(t, err)
}

func (s *Surface) keepsSecrets(t *testing.T, err error) {
	t.Helper()
	if err == nil {
		return
	}
	for _, secret := range s.Secrets {
		if secret != "" && strings.Contains(err.Error(), secret) {
			t.Errorf("an error holds a secret of %d bytes", len(secret))
		}
	}
}
