package app_test

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"firn/bot/chat"
	"firn/bot/reply"
	"firn/bot/weather"
)

// turning is a source whose observation comes when it is let.
type turning struct {
	began  time.Time
	colder atomic.Bool
}

func (*turning) Name() string { return "turning" }
func (s *turning) Observation(_ context.Context, ident string) (weather.Observation, error) {
	if !s.colder.Load() {
		return weather.Observation{}, weather.ErrNone
	}
	return weather.Observation{Ident: ident, C: -45, At: noon.Add(time.Since(s.began)), Source: "METAR (turning)"}, nil
}
func (*turning) Forecast(context.Context, string) (weather.Forecast, error) {
	return weather.Forecast{}, weather.ErrNone
}

// TestOutdatedIsToldOnce: newer weather is told once a channel and once a person,
// whoever asked or checked, and of direct messages nobody else reads.
func TestOutdatedIsToldOnce(t *testing.T) {
	wx := &turning{began: time.Now()}
	s := newSite(t, newMemory(), wx)
	desk := <-s.slack.desk
	n := 0
	says := func(user string, place chat.Place, text string) string {
		t.Helper()
		n++
		event := fmt.Sprint("e", n)
		before := len(s.slack.cards())
		place.Begins = event
		desk.Handle(t.Context(), s.slack, chat.Event{ID: event, Kind: chat.MessagePosted, Place: place, Person: chat.Person{ID: user, Name: user}, Message: chat.Ref(event), Text: text})
		cards := slices.DeleteFunc(s.slack.cards()[before:], func(m spoken) bool { return m.card.Reply.Kind == reply.KindDigest })
		if len(cards) != 1 {
			t.Fatalf("%q is answered by %d cards", text, len(cards))
		}
		if r := cards[0].card.Reply.Record; r != nil {
			return r.ID
		}
		return ""
	}
	c1 := chat.Place{Channel: "C1"}
	one := says("Anna", c1, "XKLD -38 FAF 8200")
	two := says("Anna", c1, "XKLD -36 FAF 7400")
	three := says("Bo", chat.Place{Channel: "C2"}, "XKLD -38 FAF 8300")
	own := says("Cy", chat.Place{Channel: "D1", Direct: true}, "XKLD -37 FAF 8400")
	says("Bo", c1, "check "+one)
	wx.colder.Store(true)

	want := map[string][]string{
		"slack:C1":   {"XKLD −45 now: 2 cards out of date: " + one + " (−38, Anna), " + two + " (−36, Anna)."},
		"slack:C2":   {"XKLD −45 now: 1 card out of date: " + three},
		"slack:Anna": {"XKLD −45 now. Out of date: " + one + " (−38, you asked it), " + two + " (−36, you asked it)."},
		"slack:Bo":   {one + " (−38, you checked it), " + three + " (−38, you asked it)"},
		"slack:Cy":   {"XKLD −45 now. Out of date: " + own + " (−37, you asked it)."},
	}
	s.slack.until(t, "the last of what is told", func(c chat.Message) bool { return tells(c.Reply, own) })
	time.Sleep(200 * time.Millisecond) // ten rounds
	got := map[string][]string{}
	for _, m := range s.slack.cards() {
		if m.to != "" && m.card.Reply.Kind == reply.KindNotice {
			got[m.to] = append(got[m.to], strings.Join(m.card.Reply.Facts, " "))
		}
	}
	for to, texts := range want {
		if len(got[to]) != 1 || !strings.Contains(got[to][0], texts[0]) {
			t.Errorf("%s reads %q, want once %q", to, got[to], texts)
		}
		delete(got, to)
	}
	if len(got) > 0 {
		t.Errorf("others are told: %q", got)
	}
	for _, id := range []string{one, two, three, own} {
		s.slack.until(t, id+" is marked", func(c chat.Message) bool {
			return c.Reply.Record != nil && c.Reply.Record.ID == id && strings.HasPrefix(c.Note, "Out of date: −45 now")
		})
	}
}

func tells(r reply.Reply, id string) bool {
	return r.Kind == reply.KindNotice && slices.ContainsFunc(r.Facts, func(f string) bool { return strings.Contains(f, "Out of date: "+id) })
}

func (s *surface) cards() (all []spoken) {
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, m := range s.all {
		all = append(all, *m)
	}
	return all
}
