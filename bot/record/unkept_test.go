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

// hanging is a store that takes nothing until it is freed, and says nothing.
type hanging struct {
	record.Store
	until time.Time
}

func (h *hanging) AddRecords(ctx context.Context, all []record.Result, cards ...record.Mark) ([]record.Added, error) {
	select {
	case <-time.After(time.Until(h.until)):
		return h.Store.AddRecords(ctx, all, cards...)
	case <-ctx.Done():
		return nil, ctx.Err()
	}
}

// TestStoreHangs: a store that does not answer keeps no answer waiting. The
// cards that stand say within seconds that they are not kept, those that come
// meanwhile from the beginning, and whoever waits to be told waits a moment.
func TestStoreHangs(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newShop(t, nil)
		began := time.Now()
		store := &hanging{Store: s.store, until: began.Add(20 * time.Second)}
		b := record.New(slog.New(slog.DiscardHandler), time.Now, store, record.Options{Cards: s})
		defer b.Close()
		r := s.ask(b, "1", nil)
		if took := time.Since(began); took > 0 {
			t.Errorf("the answer waited for %v", took)
		}
		if b.Kept(t.Context(), r.ID) || time.Since(began) > 300*time.Millisecond {
			t.Errorf("what hangs is kept, or that was said after %v", time.Since(began))
		}
		time.Sleep(3 * time.Second)
		synctest.Wait()
		if got, want := s.saw(), "change slack/card-1: Record "+r.ID+": not kept"; got != want {
			t.Errorf("after three seconds saw %q, want %q", got, want)
		}
		at := time.Now()
		next := s.ask(b, "2", nil)
		if f := b.Render(next); f.Record.State != "not kept" || time.Since(at) > 0 {
			t.Errorf("the next card is %s at first, after %v", f.Record.State, time.Since(at))
		}
		time.Sleep(30 * time.Second)
		b.Sweep(t.Context())
		synctest.Wait()
		for _, id := range []string{r.ID, next.ID} {
			if k, found, err := b.Find(t.Context(), id); err != nil || !found || b.Render(k).Record.State != "unchecked" {
				t.Errorf("when the store is back %s is %v, %v, %s", id, found, err, b.Render(k).Record.State)
			}
		}
	})
}

// TestHangingClose: a book over a store that hangs for good is closed in time.
func TestHangingClose(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newShop(t, nil)
		b := record.New(slog.New(slog.DiscardHandler), time.Now, &hanging{Store: s.store, until: time.Now().Add(24 * time.Hour)}, record.Options{Cards: s})
		s.ask(b, "1", nil)
		began := time.Now()
		b.Close()
		if took := time.Since(began); took > 20*time.Second {
			t.Errorf("it took %v", took)
		}
	})
}

// TestKept: a store that works keeps, and an answer to it waits for no more
// than that.
func TestKept(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := record.New(slog.New(slog.DiscardHandler), time.Now, storetest.NewMemory(time.Now), record.Options{})
		defer b.Close()
		m := result().Result
		m.At = time.Now()
		r, err := b.Make(t.Context(), m, nil)
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
		r, err = b.Make(t.Context(), func() record.Result { m.Message = "other"; return m }(), nil)
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

// TestExpected: before an answer goes out it is known whether its record can be
// thought to be kept. Where people ask often, or the store has just been heard of,
// nothing is waited for.
func TestExpected(t *testing.T) {
	for _, c := range []struct {
		name   string
		before time.Duration // since the store was last heard of
		silent bool          // it did not answer somebody since
		gone   time.Duration // it takes nothing for so long
		hangs  bool
		want   bool
		within time.Duration
	}{
		{"it was heard of just now", 900 * time.Millisecond, false, 0, false, true, 0},
		{"it was heard of just now, and is gone since", 900 * time.Millisecond, false, time.Minute, false, true, 0},
		{"nobody has asked for long", time.Minute, false, 0, false, true, 0},
		{"it is gone", time.Minute, false, time.Minute, false, false, 0},
		{"it hangs", time.Minute, false, time.Minute, true, false, 250 * time.Millisecond},
		{"it is silent", time.Millisecond, true, 10 * time.Second, true, false, 0},
		{"it was silent and is back", time.Millisecond, true, 0, false, false, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				s := newShop(t, nil)
				until := time.Now().Add(c.before + c.gone)
				var store record.Store = &gone{Store: s.store, until: until}
				if c.hangs {
					store = &hanging{Store: s.store, until: until}
				}
				b := record.New(slog.New(slog.DiscardHandler), time.Now, store, record.Options{Cards: s})
				defer b.Close()
				b.Heard(true)
				time.Sleep(c.before)
				if c.silent {
					b.Heard(false)
				}
				m := result().Result
				m.Message, m.At = "1", time.Now()
				r, err := b.Make(t.Context(), m, nil)
				if err != nil {
					t.Fatal(err)
				}
				at := time.Now()
				if got := b.Expected(t.Context(), r.ID); got != c.want {
					t.Errorf("it is expected: %v, want %v", got, c.want)
				}
				if took := time.Since(at); took > c.within {
					t.Errorf("that took %v, want at most %v", took, c.within)
				}
				if err := b.Shown(t.Context(), "slack", "card-1", r.ID); err != nil {
					t.Fatal(err)
				}
				time.Sleep(2 * time.Minute)
				b.Sweep(t.Context())
				synctest.Wait()
				told := strings.Split(s.saw(), "\n")
				if last, want := told[len(told)-1], "change slack/card-1: Record "+r.ID+": unchecked"; (!c.want || c.gone > 0) && last != want {
					t.Errorf("in the end the card shows %q, want %q", last, want)
				}
				if k, found, err := b.Find(t.Context(), r.ID); err != nil || !found || b.Render(k).Record.State != "unchecked" {
					t.Errorf("in the end it is %v, %v", found, err)
				}
			})
		})
	}
}
