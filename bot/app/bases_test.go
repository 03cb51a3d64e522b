package app_test

import (
	"slices"
	"strings"
	"testing"

	"firn/bot/chat"
	"firn/bot/reply"
)

// TestBaseAdded: a duty officer has a field watched, its morning's alert comes
// in the channel, and it ends when it is dropped; a firn that is started on the
// same store goes on watching it.
func TestBaseAdded(t *testing.T) {
	store := newMemory()
	s := newSite(t, store, source{})
	<-s.slack.desk // of the configuration before, which has been read
	s.text += "  - {ident: XRUN, elevation_ft: 4380, restriction_c: -20, time_zone: Europe/London}\n"
	s.again <- struct{}{}
	desk := <-s.slack.desk
	says := func(text string) func(chat.Message) bool {
		return func(c chat.Message) bool {
			all := c.Reply.Facts
			if c.Reply.Problem != nil {
				all = []string{c.Reply.Problem.Text}
			}
			return strings.Contains(strings.Join(all, " "), text)
		}
	}
	desk.Handle(t.Context(), s.slack, chat.Event{
		Kind: chat.MessagePosted, ID: "0", Message: "C1/0", Text: "base add XRUN 18:00",
		Place: chat.Place{Channel: "C1", Begins: "0"}, Person: chat.Person{ID: "U2", Name: "Bo"},
	})
	s.slack.until(t, "the refusal of who is not on duty", says("Only a duty officer may do that"))
	s.ask(desk, "1", "base add XRUN 18:00 window 24")
	s.slack.until(t, "the answer", says("XRUN is watched from now on, added by Anna"))
	first := s.slack.until(t, "its alert", func(c chat.Message) bool {
		return c.Reply.Kind == reply.KindDigest && slices.ContainsFunc(c.Reply.Bases, func(b reply.Cold) bool {
			return b.Ident == "XRUN" && b.State == "no-forecast"
		})
	})
	if len(first.card.Reply.Actions) == 0 {
		t.Error("nobody can acknowledge it")
	}
	s.ask(desk, "2", "ack XRUN")
	s.slack.until(t, "the acknowledgement", says("XRUN"))

	// A firn that begins on the store watches it too.
	s.again <- struct{}{}
	desk = <-s.slack.desk
	if _, err := s.now.Status(t.Context(), noon); err != nil {
		t.Fatal(err)
	}
	watched := func() (idents string) {
		all, err := s.now.Status(t.Context(), noon)
		if err != nil {
			t.Fatal(err)
		}
		for _, b := range all {
			idents += b.Ident + " "
		}
		return idents
	}
	if got := watched(); got != "XKLD XRUN " {
		t.Errorf("after it was read again %s is watched", got)
	}
	s.ask(desk, "3", "base drop XKLD")
	s.slack.until(t, "the configuration's own stays", says("XKLD is a base of the configuration, which alone ends its watch."))
	s.ask(desk, "4", "base drop XRUN")
	s.slack.until(t, "the end", says("XRUN is not watched any more, dropped by Anna"))
	s.slack.until(t, "its alert without buttons", func(c chat.Message) bool {
		return strings.Contains(c.Note, "XRUN is not watched any more") && len(c.Reply.Actions) == 0
	})
	if got := watched(); got != "XKLD " {
		t.Errorf("after it was dropped %s is watched", got)
	}
}
