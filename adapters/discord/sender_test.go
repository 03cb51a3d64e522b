package discord

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net/http"
	"strings"
	"testing"
	"time"

	"firn/adapters/testkit/discorddouble"
	"firn/bot/chat"
	"firn/bot/outbox"
	"firn/bot/reply"
	"firn/bot/testkit/sendertest"
	"firn/bot/testkit/storetest"
	"firn/bot/watch"
)

func TestSender(t *testing.T) {
	sendertest.Run(t, func(t *testing.T) sendertest.Surface {
		d := startDouble(t, discorddouble.Options{})
		o := options(d)
		o.clock = hasty()
		s := newSurface(t, o)
		return sendertest.Surface{
			Sender:   s,
			Channels: []string{"discord:" + d.Channels()[0], "discord:" + d.Channels()[1]},
			Bad:      "discord:100200300400500999",
			Text: func(_ *testing.T, channel string) string {
				var b strings.Builder
				for _, m := range d.FromBot(strings.TrimPrefix(channel, "discord:")) {
					b.WriteString(readable(m) + "\n")
				}
				return b.String()
			},
			Break:   d.Break,
			Secrets: []string{testToken},
		}
	})
}

const alertKey = "alert/XKLD/2026-01-15/1"

func alertPost(channel string) outbox.Post {
	return outbox.Post{Key: alertKey, Channel: channel, Body: reply.Reply{
		Kind: reply.KindAlert, Facts: []string{"Cold alert: XKLD.", "Lowest −38 °C."},
		Alert:   &reply.Cold{Ident: "XKLD", State: "below"},
		Actions: []reply.Action{{ID: "ack", Label: "Acknowledge", Message: "ack XKLD"}},
	}}
}

// The answer to a post is lost in each way in which that happens; the outbox
// then makes sure of it and no second one comes, however long it took.
func TestLostAnswer(t *testing.T) {
	for _, c := range []struct {
		name  string
		fault discorddouble.Fault
		late  bool // the nonce is forgotten before the second attempt
	}{
		{"502 after it was stored", discorddouble.Fault{Status: http.StatusBadGateway, After: true}, false},
		{"502 after it was stored, nonce forgotten", discorddouble.Fault{Status: http.StatusBadGateway, After: true}, true},
		{"500 after it was stored, nonce forgotten", discorddouble.Fault{Status: http.StatusInternalServerError, After: true}, true},
		{"connection cut after it was stored, nonce forgotten", discorddouble.Fault{Cut: true, After: true}, true},
		{"502 before it was stored", discorddouble.Fault{Status: http.StatusBadGateway}, false},
		{"connection cut before it was stored", discorddouble.Fault{Cut: true}, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			d := startDouble(t, discorddouble.Options{})
			s := newSurface(t, options(d))
			now := time.Date(2026, 1, 15, 6, 0, 0, 0, time.UTC)
			clock := func() time.Time { return now }
			store := storetest.NewMemory(clock)
			post := alertPost("discord:" + d.Channels()[0])
			item := outbox.Item{Key: post.Key, Channel: post.Channel, Body: post.Body, Made: now, Due: now}
			if _, err := store.Open(t.Context(), watch.Alert{Base: "XKLD", Day: "2026-01-15", Seq: 1, Kind: watch.Opened, Made: now}, []outbox.Item{item}); err != nil {
				t.Fatal(err)
			}
			box := outbox.New(slog.New(slog.DiscardHandler), clock, store, map[string]outbox.Sender{Name: s}, outbox.Settings{})
			c.fault.Method, c.fault.Path = http.MethodPost, "/messages"
			d.Fail(c.fault)
			for range 3 {
				if _, err := box.Deliver(t.Context()); err != nil {
					t.Fatal(err)
				}
				if c.late {
					d.ForgetNonces()
				}
				now = now.Add(time.Minute)
			}
			if got := d.FromBot(d.Channels()[0]); len(got) != 1 {
				t.Errorf("%d posts stand in the channel, want 1", len(got))
			}
			if b, err := box.Backlog(t.Context()); err != nil || b.Waiting != 0 || b.GivenUp != 0 {
				t.Errorf("the backlog is %+v, %v", b, err)
			}
		})
	}
}

// Within the minutes of the nonce even a repeat without a lookup is one post.
func TestNonce(t *testing.T) {
	d := startDouble(t, discorddouble.Options{})
	s := newSurface(t, options(d))
	post := alertPost("discord:" + d.Channels()[0])
	first, err := s.Send(t.Context(), post)
	if err != nil {
		t.Fatal(err)
	}
	second, err := s.Send(t.Context(), post)
	if err != nil || second != first {
		t.Errorf("Send again = %q, %v, want %q", second, err, first)
	}
	if got := d.FromBot(d.Channels()[0]); len(got) != 1 || len(got[0].Nonce) != 24 {
		t.Errorf("in the channel stand %+v", got)
	}
}

func TestFindsBehindManyMessages(t *testing.T) {
	d := startDouble(t, discorddouble.Options{})
	s := newSurface(t, options(d))
	post := alertPost("discord:" + d.Channels()[0])
	ref, err := s.Send(t.Context(), post)
	if err != nil {
		t.Fatal(err)
	}
	for i := range 250 {
		if _, err := d.Say(discorddouble.Say{Channel: d.Channels()[0], By: d.People()[0].ID, Text: fmt.Sprint("Word ", i, " ", markOf(alertKey))}); err != nil {
			t.Fatal(err)
		}
	}
	if got, found, err := s.Find(t.Context(), post.Channel, post.Key); !found || err != nil || got != ref {
		t.Errorf("Find = %q, %v, %v, want %q", got, found, err, ref)
	}
}

func TestTargets(t *testing.T) {
	d := startDouble(t, discorddouble.Options{})
	s := newSurface(t, options(d))
	person := d.People()[1].ID
	d.DenyAccess(d.Channels()[1], true)
	for _, c := range []struct {
		name, channel string
		permanent     bool
		words         string
	}{
		{"a role", "discord:role:100200300400500701", true, "is a role"},
		{"neither a channel nor a person", "discord:100200300400500999", true, "Unknown Channel"},
		{"a channel that the bot may not see", "discord:" + d.Channels()[1], true, "Missing Access"},
		{"no id", "discord:alerts", true, "no channel of Discord"},
		{"a way up", "discord:../users/@me", true, "no channel of Discord"},
		{"another surface", "slack:C0123ABCD", true, "no channel of Discord"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := s.Send(t.Context(), alertPost(c.channel))
			if err == nil || outbox.IsPermanent(err) != c.permanent || !strings.Contains(err.Error(), c.words) {
				t.Errorf("Send to %s = %v, permanent %v; want permanent %v and %q", c.channel, err, outbox.IsPermanent(err), c.permanent, c.words)
			}
		})
	}
	t.Run("a person", func(t *testing.T) {
		post := alertPost("discord:" + person)
		ref, err := s.Send(t.Context(), post)
		if err != nil {
			t.Fatal(err)
		}
		if got := d.FromBot(d.DM(person)); len(got) != 1 || ref != d.DM(person)+"/"+got[0].ID {
			t.Errorf("reference %q, in the direct messages stand %+v", ref, got)
		}
		// A second process knows nothing of the first's direct messages.
		if got, found, err := newSurface(t, options(d)).Find(t.Context(), post.Channel, post.Key); got != ref || !found || err != nil {
			t.Errorf("Find = %q, %v, %v, want %q", got, found, err, ref)
		}
	})
}

func TestRateLimit(t *testing.T) {
	for _, global := range []bool{false, true} {
		t.Run(fmt.Sprintf("waited out, global %v", global), func(t *testing.T) {
			d := startDouble(t, discorddouble.Options{})
			s := newSurface(t, options(d))
			d.Fail(discorddouble.Fault{Method: http.MethodPost, Status: http.StatusTooManyRequests, RetryAfter: 60 * time.Millisecond, Global: global})
			began := time.Now()
			if _, err := s.Send(t.Context(), alertPost("discord:"+d.Channels()[0])); err != nil {
				t.Fatal(err)
			}
			if took := time.Since(began); took < 60*time.Millisecond {
				t.Errorf("Send took %s, before Discord allowed it", took)
			}
		})
	}
	t.Run("no time for it", func(t *testing.T) {
		d := startDouble(t, discorddouble.Options{})
		s := newSurface(t, options(d))
		d.Fail(discorddouble.Fault{Method: http.MethodPost, Status: http.StatusTooManyRequests, RetryAfter: time.Minute})
		ctx, cancel := context.WithTimeout(t.Context(), 2*time.Second)
		defer cancel()
		_, err := s.Send(ctx, alertPost("discord:"+d.Channels()[0]))
		var busy outbox.RetryAfterError
		if !errors.As(err, &busy) || busy.RetryAfter() != time.Minute {
			t.Errorf("Send = %v, want to come again in a minute", err)
		}
	})
}

func TestSlowAnswer(t *testing.T) {
	d := startDouble(t, discorddouble.Options{})
	s := newSurface(t, options(d))
	d.Fail(discorddouble.Fault{Method: http.MethodPost, Delay: 5 * time.Second})
	ctx, cancel := context.WithTimeout(t.Context(), 50*time.Millisecond)
	defer cancel()
	began := time.Now()
	if _, err := s.Send(ctx, alertPost("discord:"+d.Channels()[0])); !errors.Is(err, context.DeadlineExceeded) || outbox.IsPermanent(err) {
		t.Errorf("Send = %v, want the end of the context", err)
	}
	if took := time.Since(began); took > 2*time.Second {
		t.Errorf("Send took %s with 50 ms left", took)
	}
}

// A token that is not taken is replaced: nothing is given up for it.
func TestRefusedTokenIsNotPermanent(t *testing.T) {
	d := startDouble(t, discorddouble.Options{})
	s := newSurface(t, options(d))
	d.Revoke()
	_, err := s.Send(t.Context(), alertPost("discord:"+d.Channels()[0]))
	if err == nil || outbox.IsPermanent(err) || !strings.Contains(err.Error(), "set FIRN_DISCORD_TOKEN") || strings.Contains(err.Error(), testToken) {
		t.Errorf("Send = %v", err)
	}
	if got := s.State(); !errors.Is(got, errRefused) {
		t.Errorf("State = %v", got)
	}
	d.Restore()
	if _, err := s.Send(t.Context(), alertPost("discord:"+d.Channels()[0])); err != nil {
		t.Errorf("Send with a good token = %v", err)
	}
	if got := s.State(); errors.Is(got, errRefused) {
		t.Errorf("State = %v after a call that was taken", got)
	}
}

// A post keeps the mark of its key when its card is changed, by whichever
// process.
func TestChangeKeepsMark(t *testing.T) {
	d := startDouble(t, discorddouble.Options{})
	post := alertPost("discord:" + d.Channels()[0])
	s := newSurface(t, options(d))
	ref, err := s.Send(t.Context(), post)
	if err != nil {
		t.Fatal(err)
	}
	for i, by := range []*Surface{s, newSurface(t, options(d))} {
		card := chat.Message{Reply: post.Body, Closed: true}
		card.Reply.Facts = []string{fmt.Sprintf("Changed %d.", i)}
		if err := by.Change(t.Context(), chat.Ref(ref), card); err != nil {
			t.Fatal(err)
		}
		if got, found, err := s.Find(t.Context(), post.Channel, post.Key); !found || err != nil || got != ref {
			t.Errorf("after change %d: Find = %q, %v, %v, want %q", i, got, found, err, ref)
		}
	}
}
