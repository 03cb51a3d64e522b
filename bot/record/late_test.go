package record_test

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"firn/bot/record"
	"firn/bot/testkit/storetest"
)

// TestOvertaken: of two that change a card at the same time the slower one may
// show an older revision last; it puts that right.
func TestOvertaken(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newShop(t, nil)
		r := s.ask(s.Book, "1", nil)
		s.do(s.Book, r.ID, byBo, true, "")
		time.Sleep(time.Second)
		slow := &delayed{Messages: s, first: make(chan struct{})}
		other := s.another(func(o *record.Options) { o.Cards = slow })
		go other.Sweep(t.Context()) // has read the check, and its call is under way
		synctest.Wait()
		s.do(s.Book, r.ID, record.Action{Kind: record.KindWithdrawn, By: bo}, true, "")
		s.look(record.Swept{Told: 1})
		close(slow.first)
		synctest.Wait()
		got := strings.Split(s.saw(), "\n")
		if want := "change slack/card-1: Record " + r.ID + ": unchecked"; got[len(got)-1] != want {
			t.Errorf("the card shows %q in the end, want %q", got, want)
		}
	})
}

// delayed holds the first change up.
type delayed struct {
	record.Messages
	first chan struct{}
}

func (d *delayed) Change(ctx context.Context, surface, ref string, c record.Message) error {
	<-d.first
	return d.Messages.Change(ctx, surface, ref, c)
}

// TestAnsweredAgain: a message that is answered once more, by another process
// and at another temperature, has the record that it had, and its card shows
// that one.
func TestAnsweredAgain(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newShop(t, nil)
		r := s.ask(s.Book, "1", nil)
		time.Sleep(time.Second)
		other := s.another(nil)
		again := s.ask(other, "1", func(m *record.Result) { m.Numbers[0].CorrectedFt += 100 })
		if again.ID != r.ID {
			t.Fatalf("one message is %s and %s", r.ID, again.ID)
		}
		time.Sleep(time.Second)
		other.Sweep(t.Context())
		if got, want := s.saw(), "change slack/card-1: Record "+r.ID+": unchecked"; got != want {
			t.Errorf("saw %q, want %q", got, want)
		}
	})
}

// gone is a store that does not answer for a while, or whose disk is full.
type gone struct {
	record.Store
	until time.Time
	full  bool
}

func (g *gone) down() error {
	if time.Now().Before(g.until) {
		return errors.New("down")
	}
	return nil
}

func (g *gone) AddRecords(ctx context.Context, all []record.Result, cards ...record.Mark) ([]record.Added, error) {
	if err := g.down(); err != nil {
		return nil, err
	}
	return g.Store.AddRecords(ctx, all, cards...)
}

func (g *gone) Record(ctx context.Context, id string) (record.Record, bool, error) {
	if err := g.down(); err != nil && !g.full {
		return record.Record{}, false, err
	}
	return g.Store.Record(ctx, id)
}

// TestStoreGone: a database that starts again elsewhere costs no record; what
// a store refuses that can be read is given up sooner, and a book that is
// closed waits for neither.
func TestStoreGone(t *testing.T) {
	for _, c := range []struct {
		name   string
		down   time.Duration
		full   bool
		closed bool // at once
		kept   int
		within time.Duration
	}{
		{"for a minute", time.Minute, false, false, 1, 62 * time.Second},
		{"for an hour", time.Hour, false, false, 0, 3 * time.Minute},
		{"its disk is full", time.Minute, true, false, 0, 5 * time.Second},
		{"closed meanwhile", time.Minute, false, true, 0, 5 * time.Second},
	} {
		t.Run(c.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				memory := storetest.NewMemory(time.Now)
				began := time.Now()
				store := &gone{Store: memory, until: began.Add(c.down), full: c.full}
				b := record.New(slog.New(slog.DiscardHandler), time.Now, store, record.Options{})
				m := result().Result
				m.Message, m.At = fmt.Sprint(1), began
				if _, err := b.Make(t.Context(), m, nil); err != nil {
					t.Fatal(err)
				}
				if !c.closed {
					if err := b.Written(t.Context()); err != nil {
						t.Fatal(err)
					}
				}
				b.Close()
				took := time.Since(began)
				rep, err := record.Verify(t.Context(), memory)
				if err != nil || rep.Records != c.kept || took > c.within {
					t.Errorf("%d are kept after %v, want %d within %v: %v", rep.Records, took, c.kept, c.within, err)
				}
			})
		})
	}
}
