package record_test

import (
	"context"
	"log/slog"
	"strings"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"firn/bot/record"
	"firn/bot/reply"
	"firn/bot/testkit/storetest"
)

func cautioned(r reply.Reply) bool {
	for _, c := range r.Cautions {
		if c.Code == "not-kept" {
			return true
		}
	}
	return false
}

// TestNotKept: while the store takes nothing, cards say so within a moment,
// and those that come meanwhile from the beginning; when it takes them after
// all, they are cards like any other.
func TestNotKept(t *testing.T) {
	for _, c := range []struct {
		name string
		full time.Duration
		last string
	}{
		{"for three seconds", 3 * time.Second, "unchecked"},
		{"for an hour", time.Hour, "not kept"},
	} {
		t.Run(c.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				s := newShop(t, nil)
				var lost atomic.Int64
				store := &gone{Store: s.store, until: time.Now().Add(c.full), full: true}
				b := record.New(slog.New(slog.DiscardHandler), time.Now, store, record.Options{Cards: s, Settings: record.Settings{Lost: func() { lost.Add(1) }}})
				defer b.Close()
				r := s.ask(b, "1", nil)
				if f := b.Render(r); f.Record.State != "unchecked" || cautioned(f) {
					t.Errorf("before anything was tried the card is %s", f.Record.State)
				}
				time.Sleep(200 * time.Millisecond)
				synctest.Wait()
				if got, want := s.saw(), "change slack/card-1: Record "+r.ID+": not kept"; got != want {
					t.Errorf("after the first try saw %q, want %q", got, want)
				}
				next := s.ask(b, "2", nil)
				f := b.Render(next)
				if f.Record.State != "not kept" || !cautioned(f) || b.Kept(t.Context(), next.ID) {
					t.Errorf("the next card is %s at first", f.Record.State)
				}
				for _, a := range f.Actions {
					if strings.Contains(a.Asks(), next.ID) {
						t.Errorf("what is not kept offers %q", a.Asks())
					}
				}
				time.Sleep(10 * time.Second)
				b.Sweep(t.Context())
				synctest.Wait()
				all := strings.Split(s.saw(), "\n")
				for _, want := range []string{"change slack/card-1: Record " + r.ID, "change slack/card-2: Record " + next.ID} {
					last := ""
					for _, line := range all {
						if strings.HasPrefix(line, want) {
							last = line
						}
					}
					if c.last == "unchecked" && last != want+": unchecked" || c.last != "unchecked" && strings.HasSuffix(last, "unchecked") {
						t.Errorf("in the end the card shows %q, want %s", last, c.last)
					}
				}
				if got := b.Render(next).Record.State; got != c.last {
					t.Errorf("in the end the face is %s, want %s", got, c.last)
				}
				if kept := b.Kept(t.Context(), r.ID); kept != (c.last == "unchecked") {
					t.Errorf("kept: %v", kept)
				}
				if n := lost.Load(); (n > 0) != (c.last == "not kept") {
					t.Errorf("%d were told as lost", n)
				}
			})
		})
	}
}

// TestKept: a store that works keeps, and an answer to it waits for no more
// than that.
func TestKept(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := record.New(slog.New(slog.DiscardHandler), time.Now, storetest.NewMemory(time.Now), record.Options{})
		defer b.Close()
		m := result().Result
		m.At = time.Now()
		r, err := b.Make(t.Context(), m)
		if err != nil {
			t.Fatal(err)
		}
		if !b.Kept(t.Context(), r.ID) || cautioned(b.Render(r)) {
			t.Error("a result that was kept is not")
		}
		// Another process has it, or it is old: it is not this one's to say.
		if !b.Kept(t.Context(), "KALOMI-RUTA") {
			t.Error("somebody else's result is not kept")
		}
		r, err = b.Make(t.Context(), func() record.Result { m.Message = "other"; return m }())
		if err != nil {
			t.Fatal(err)
		}
		ended, cancel := context.WithCancel(t.Context())
		cancel()
		if b.Kept(ended, r.ID) {
			t.Error("nobody waited, and it is kept")
		}
	})
}
