package app_test

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"testing/synctest"
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
	says("Dan", chat.Place{Channel: "D2", Direct: true}, "XKLD -37 FAF 8500")
	s.slack.leaves("Dan")
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
	s.slack.mu.Lock()
	who := slices.Sorted(slices.Values(s.slack.who))
	s.slack.mu.Unlock()
	if !slices.Equal(who, []string{"Anna", "Bo", "Cy", "Dan"}) {
		t.Errorf("the service is asked of %q, want each once", who)
	}
	for _, id := range []string{one, two, three, own} {
		s.slack.until(t, id+" is marked", func(c chat.Message) bool {
			return c.Reply.Record != nil && c.Reply.Record.ID == id && strings.HasPrefix(c.Note, "Out of date: −45 now")
		})
	}
}

// TestCheckerLearnsWhenACheckEnds: whoever checked a card that shows another answer
// since its question was edited, or that is gone with its question, is told once,
// and the card that took its place says who had checked that one.
func TestCheckerLearnsWhenACheckEnds(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newSlowSite(t, newMemory(), source{}, time.Minute)
		desk := <-s.slack.desk
		n := 0
		does := func(kind chat.Kind, user, message, text string) {
			t.Helper()
			n++
			e := chat.Event{
				ID: fmt.Sprint("e", n), Kind: kind, Text: text, Message: chat.Ref("C1/" + message),
				Place: chat.Place{Channel: "C1", Begins: message}, Person: chat.Person{ID: user, Name: user},
			}
			switch kind {
			case chat.MessagePosted:
				e.ID = message
			case chat.Edited:
				e.ID = fmt.Sprint(message, ".", n)
			case chat.Deleted:
				e.ID = message + chat.DeletedID
			}
			desk.Handle(t.Context(), s.slack, e)
			time.Sleep(5 * time.Second)
		}
		record := func(celsius float64) string {
			t.Helper()
			return s.slack.until(t, "the answer", about(celsius)).card.Reply.Record.ID
		}
		does(chat.MessagePosted, "Anna", "1", "XKLD -38 FAF 8200")
		one := record(-38)
		does(chat.MessagePosted, "Bo", "2", "check "+one)
		does(chat.Edited, "Anna", "1", "XKLD -41 FAF 8200")
		two := record(-41)
		if r := s.slack.until(t, "the card", about(-41)).card.Reply; !slices.Contains(r.Notes, "In the place of "+one+", which Bo had checked.") || r.Record.State != "unchecked" {
			t.Errorf("the card says %q, %s", r.Notes, r.Record.State)
		}
		does(chat.MessagePosted, "Cy", "3", "check "+two)
		does(chat.Edited, "Anna", "1", "XKLD")
		does(chat.MessagePosted, "Anna", "4", "XKLD -35 FAF 8200")
		three := record(-35)
		does(chat.Edited, "Anna", "4", "XKLD -34 FAF 8200") // nobody had checked it
		does(chat.MessagePosted, "Bo", "5", "check "+record(-34))
		four := record(-34)
		does(chat.Deleted, "Anna", "4", "")
		does(chat.MessagePosted, "Anna", "8", "XKLD -32 FAF 8200")
		five := record(-32)
		does(chat.MessagePosted, "Bo", "9", "check "+five)
		does(chat.Edited, "Anna", "8", "thanks") // the card stays, for whoever has it in sight
		s.slack.until(t, "the card that holds no more", func(c chat.Message) bool {
			return c.Reply.Record != nil && c.Reply.Record.ID == five && c.Reply.Record.State == "replaced"
		})
		does(chat.MessagePosted, "Anna", "6", "XKLD -33 FAF 8200")
		does(chat.MessagePosted, "Dan", "7", "check "+record(-33))
		s.slack.leaves("Dan") // who belongs to the unit no more reads nothing of it
		does(chat.Deleted, "Anna", "6", "")
		time.Sleep(5 * time.Minute)

		got := s.slack.notices()
		want := []string{
			"slack:Bo: " + one + " (XKLD −38 °C), which you checked, was replaced by " + two + " (XKLD −41 °C, Anna).",
			"slack:Cy: " + two + " (XKLD −41 °C), which you checked, is gone: its message became another one.",
			"slack:Bo: " + four + " (XKLD −34 °C), which you checked, is gone: its question was deleted.",
			"slack:Bo: " + five + " (XKLD −32 °C), which you checked, is gone: its message became another one.",
		}
		if !slices.Equal(got, want) {
			t.Errorf("told\n%s\nwant\n%s\n(%s was checked by nobody)", strings.Join(got, "\n"), strings.Join(want, "\n"), three)
		}
	})
}

// TestCheckerIsToldAfterAKill: who checked a result learns that it ended from whoever
// starts next, once, where firn was killed between the end and its post.
func TestCheckerIsToldAfterAKill(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		store := newMemory()
		s := newSlowSite(t, store, source{}, time.Minute)
		desk := <-s.slack.desk
		n := 0
		says := func(kind chat.Kind, user, message, text string) {
			t.Helper()
			n++
			e := chat.Event{
				ID: fmt.Sprint(message, ".", n), Kind: kind, Text: text, Message: chat.Ref("C1/" + message),
				Place: chat.Place{Channel: "C1", Begins: message}, Person: chat.Person{ID: user, Name: user},
			}
			switch kind {
			case chat.MessagePosted:
				e.ID = message
			case chat.Deleted:
				e.ID = message + chat.DeletedID
			}
			desk.Handle(t.Context(), s.slack, e)
			time.Sleep(5 * time.Second)
		}
		checked := func(message string, celsius float64) string {
			t.Helper()
			says(chat.MessagePosted, "Anna", message, fmt.Sprintf("XKLD %.0f FAF 8200", celsius))
			id := s.slack.until(t, "the answer", about(celsius)).card.Reply.Record.ID
			says(chat.MessagePosted, "Bo", message+"9", "check "+id)
			return id
		}
		replaced, gone := checked("1", -38), checked("2", -36)
		time.Sleep(2 * time.Minute)
		store.lost.Store(true)
		says(chat.Edited, "Anna", "1", "XKLD -41 FAF 8200")
		says(chat.Deleted, "Anna", "2", "")
		next := s.slack.until(t, "the next version", about(-41)).card.Reply.Record.ID
		for range 2 {
			s.again <- struct{}{}
			<-s.slack.desk
			store.lost.Store(false)
			time.Sleep(5 * time.Minute)
		}
		got := s.slack.notices()
		want := []string{
			"slack:Bo: " + replaced + " (XKLD −38 °C), which you checked, was replaced by " + next + " (XKLD −41 °C, Anna).",
			"slack:Bo: " + gone + " (XKLD −36 °C), which you checked, is gone: its question was deleted.",
		}
		slices.Sort(got) // which of two posts comes first is nobody's matter
		slices.Sort(want)
		if !slices.Equal(got, want) {
			t.Errorf("told\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
		}
	})
}

func tells(r reply.Reply, id string) bool {
	return r.Kind == reply.KindNotice && slices.ContainsFunc(r.Facts, func(f string) bool { return strings.Contains(f, "Out of date: "+id) })
}

// notices are what persons were told, each with whom.
func (s *surface) notices() (all []string) {
	for _, m := range s.cards() {
		if m.to != "" && m.card.Reply.Kind == reply.KindNotice {
			all = append(all, m.to+": "+m.card.Reply.Facts[0])
		}
	}
	return all
}

func (s *surface) cards() (all []spoken) {
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, m := range s.all {
		all = append(all, *m)
	}
	return all
}
