package app_test

import (
	"context"
	"strings"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"firn/bot/chat"
	"firn/bot/record"
)

// counted is a store that counts how often the latest live results are read, as
// front pages need them.
type counted struct {
	*memory
	reads atomic.Int64
}

func (c *counted) EachRecord(ctx context.Context, q record.Query, yield func(record.Record) error) error {
	if q.Live && q.Newest {
		c.reads.Add(1)
	}
	return c.memory.EachRecord(ctx, q, yield)
}

// TestFrontsFollow: front pages are worked out when something has changed, all of
// them from what was read once, and not each minute.
func TestFrontsFollow(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		store := &counted{memory: newMemory()}
		s := newSlowSite(t, store, source{}, time.Minute)
		desk := <-s.slack.desk
		people := []string{"U1", "U2", "U3", "U4"}
		for _, id := range people {
			desk.Handle(t.Context(), s.slack, chat.Event{
				Kind: chat.HomeOpened, ID: "open" + id, Place: chat.Place{Channel: "D" + id, Direct: true}, Person: chat.Person{ID: id, Name: "Name of " + id},
			})
		}
		time.Sleep(5 * time.Minute) // the morning's alert
		before := store.reads.Load()
		time.Sleep(30 * time.Minute)
		if n := store.reads.Load() - before; n > 0 {
			t.Errorf("results were read %d times for front pages while nothing changed", n)
		}
		before = store.reads.Load()
		s.ask(desk, "1", "XKLD -38 8200 7400 5340")
		time.Sleep(2 * time.Minute)
		if n := store.reads.Load() - before; n == 0 || n > 2 { // the result, and its card
			t.Errorf("results were read %d times for a change that %d front pages show", n, len(people))
		}
		for _, id := range people {
			want := "1 to check"
			if id == "U1" { // who asked
				want = "For you: 1 at or below"
			}
			s.slack.until(t, "the front page of "+id, func(c chat.Message) bool {
				return c.Reply.Mine != nil && len(c.Reply.Mine.Check) == strings.Count(want, "to check") && strings.Contains(c.Reply.Facts[0], want)
			})
		}
		// A configuration that watches no base is on the pages that are open.
		s.text, _, _ = strings.Cut(oneBase, ", watch:")
		s.text += "}\n"
		s.again <- struct{}{}
		<-s.slack.desk
		time.Sleep(time.Minute)
		for _, id := range people {
			if m := s.slack.front(id); strings.Contains(m.card.Reply.Facts[0], "1 at or below") {
				t.Errorf("%s reads by the configuration before: %q", id, m.card.Reply.Facts)
			}
		}
	})
}
