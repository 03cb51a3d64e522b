package app_test

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"firn/bot/app"
	"firn/bot/chat"
	"firn/bot/record"
	"firn/bot/reply"
)

// ask has somebody say something.
func (s *site) ask(desk chat.Handler, id, text string) {
	s.Helper()
	desk.Handle(s.Context(), s.slack, chat.Event{
		Kind: chat.MessagePosted, ID: id, Message: chat.Ref("C1/" + id), Text: text,
		Place: chat.Place{Channel: "C1", Begins: id}, Person: chat.Person{ID: "U1", Name: "Anna"},
	})
}

func corrected(c chat.Message) bool { return len(c.Reply.Altitudes) > 0 }

// about finds the answer that was computed at a temperature.
func about(celsius float64) func(chat.Message) bool {
	return func(c chat.Message) bool { return corrected(c) && c.Reply.TemperatureC == reply.Some(celsius) }
}

// TestServe runs all of firn in this process: the morning's alert, an answer
// that is in the record, and a configuration that is read again or refused.
func TestServe(t *testing.T) {
	s := newSite(t, newMemory(), source{})
	desk := <-s.slack.desk
	s.slack.until(t, "the morning's alert", func(c chat.Message) bool {
		return c.Reply.Kind == reply.KindDigest && len(c.Reply.Bases) == 1 && c.Reply.Bases[0].State == "no-forecast"
	})
	s.ask(desk, "1", "XKLD -38 8200 7400 5340")
	answer := s.slack.until(t, "the answer", corrected)
	if r, found, err := s.now.Book().Find(t.Context(), answer.card.Reply.Record.ID); err != nil || !found || r.Asked.Name != "Anna" {
		t.Errorf("its record is %v, %v, %+v", found, err, r.Asked)
	}
	failed := func() float64 {
		for _, g := range s.now.Gauges() {
			if g.Name == "firn_reload_failed" {
				all, err := g.Read(t.Context())
				if err != nil || len(all) != 1 {
					t.Fatalf("%v, %v", all, err)
				}
				return all[0].Value
			}
		}
		t.Fatal("there is no such figure")
		return 0
	}
	until := func(what string, is func() bool) {
		t.Helper()
		for end := time.Now().Add(20 * time.Second); !is(); time.Sleep(5 * time.Millisecond) {
			if time.Now().After(end) {
				t.Fatalf("did not come: %s", what)
			}
		}
	}
	if failed() != 0 {
		t.Error("a configuration was refused before one was read again")
	}
	good := s.text
	s.text = strings.ReplaceAll(good, "slack:C2", "discord:77")
	s.again <- struct{}{}
	until("the refusal", func() bool { return failed() == 1 })
	s.ask(desk, "2", "XKLD -37 8200")
	s.slack.until(t, "an answer by the configuration before", about(-37))

	s.text = strings.ReplaceAll(good, "elevation_ft: 4802", "elevation_ft: 4700")
	s.again <- struct{}{}
	desk = <-s.slack.desk
	if failed() != 0 {
		t.Error("the configuration that was taken counts as refused")
	}
	s.ask(desk, "3", "XKLD -36 8200")
	if m := s.slack.until(t, "an answer by the new configuration", about(-36)); m.card.Reply.Station.ElevationFt != 4700 {
		t.Errorf("the field is at %v ft", m.card.Reply.Station.ElevationFt)
	}
}

// TestAnswersWithoutStore: while the store is gone, answers go out as soon as
// ever, by a clock that no busy machine moves, and say that they are not kept.
func TestAnswersWithoutStore(t *testing.T) {
	const most = 300 * time.Millisecond
	for _, c := range []struct {
		name   string
		breaks func(m *memory)
	}{
		{"it gives errors", func(m *memory) { m.down = errors.New("the disk is full") }},
		{"it says nothing", func(m *memory) { m.hang = make(chan struct{}) }},
	} {
		t.Run(c.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				store := newMemory()
				c.breaks(store)
				s := newSite(t, store, source{})
				desk := <-s.slack.desk
				for i, celsius := range []float64{-38, -37} {
					began := time.Now()
					go s.ask(desk, fmt.Sprint(i), fmt.Sprintf("XKLD %v 8200", celsius))
					m := s.slack.until(t, "the answer", about(celsius))
					if took := m.at.Sub(began); took > most {
						t.Errorf("answer %d went out after %v", i+1, took)
					}
					if first := m.card.Reply.Record.State; first != "not kept" {
						t.Errorf("answer %d says %s", i+1, first)
					}
				}
				if store.hang != nil {
					close(store.hang)
				}
			})
		})
	}
}

// TestPageAnswersAreRecordsFirst: when an answer comes to the page, which keeps it, its
// record is in the store, and that the card shows it: a kill just then leaves no name
// of a record that is none, and no card that stays as it was. A service would send the
// question again.
func TestPageAnswersAreRecordsFirst(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		store := newMemory()
		s := newSlowSite(t, store, source{}, time.Hour)
		desk := <-s.slack.desk
		came := 0
		page := &entries{surface: newSurface("page"), comes: func(ref chat.Ref, c chat.Message, edited bool) {
			came++
			id := c.Reply.Record.ID
			if _, found, err := store.Record(t.Context(), id); err != nil || !found {
				t.Errorf("the card of %s came before its record: %v", id, err)
			}
			if on, _, err := store.CardOf(t.Context(), "page", string(ref)); err != nil || on != id {
				t.Errorf("%s is to show %s, and the store has %q: %v", ref, id, on, err)
			}
			// A card that shows something else until now is changed, should this never come.
			behind, err := store.Untold(t.Context(), noon.AddDate(1, 0, 0), 9)
			is := slices.ContainsFunc(behind, func(m record.Mark) bool { return m.Ref == string(ref) && m.Record == id })
			if err != nil || is != edited {
				t.Errorf("%s is to be changed: %v, want %v: %v", ref, is, edited, err)
			}
		}}
		say := func(kind chat.Kind, id, text string) {
			desk.Handle(t.Context(), page, chat.Event{
				Kind: kind, ID: id, Message: "m/1", Text: text, At: noon.Add(time.Duration(len(id)) * time.Minute),
				Place: chat.Place{Channel: "c", Direct: true, Open: true}, Person: chat.Person{ID: "anna", Name: "Anna"}, Sole: true,
			})
		}
		say(chat.MessagePosted, "1", "XKLD -38 8200 7400 5340")
		say(chat.Edited, "1.1", "XKLD -37 8200 7400 5340")
		time.Sleep(time.Second)
		if left, err := store.Untold(t.Context(), noon.AddDate(1, 0, 0), 9); err != nil || len(left) > 0 || came != 2 {
			t.Errorf("%d cards came, want 2; behind %+v, %v", came, left, err)
		}
	})
}

// entries is a page that looks at each answer when it comes.
type entries struct {
	*surface
	comes func(ref chat.Ref, c chat.Message, edited bool)
}

func (e *entries) Foresee(chat.Event) chat.Ref { return "m1" }

func (e *entries) Answer(ctx context.Context, of chat.Event, c chat.Message) (chat.Ref, error) {
	e.comes("m1", c, false)
	return e.surface.Answer(ctx, of, c)
}

func (e *entries) Change(ctx context.Context, ref chat.Ref, c chat.Message) error {
	e.comes(ref, c, true)
	return e.surface.Change(ctx, ref, c)
}

// TestServeEnds: what cannot begin says why, and what fails ends the rest.
func TestServeEnds(t *testing.T) {
	wrong := errors.New("it cannot be right")
	err := app.Serve(t.Context(), make(chan struct{}), func(context.Context, *app.App) (*app.App, error) { return nil, wrong })
	if !errors.Is(err, wrong) {
		t.Errorf("ended with %v", err)
	}
}
