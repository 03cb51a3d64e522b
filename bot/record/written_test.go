package record_test

import (
	"context"
	"errors"
	"log/slog"
	"testing"
	"testing/synctest"
	"time"

	"firn/bot/record"
	"firn/bot/testkit/storetest"
)

// TestWritten: whoever waits is told when what was made before is in the
// store, with its card.
func TestWritten(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newShop(t, nil)
		r, err := s.Make(t.Context(), record.Result{Surface: "slack", Message: "C1/1", At: time.Now()}, nil)
		if err != nil {
			t.Fatal(err)
		}
		if err := s.Shown(t.Context(), "slack", "C1/2", r.ID); err != nil {
			t.Fatal(err)
		}
		if err := s.Written(t.Context()); err != nil {
			t.Fatal(err)
		}
		id, found, err := s.store.CardOf(t.Context(), "slack", "C1/2")
		if err != nil || !found || id != r.ID {
			t.Errorf("the card is of %q, %v, %v", id, found, err)
		}
		ctx, cancel := context.WithCancel(t.Context())
		cancel()
		if err := s.Written(ctx); err == nil {
			t.Error("a wait that has ended has no error")
		}
	})
}

// TestForeseen: a card that is foreseen is kept with its record, and told once that it
// stands. Where the record had been made before, as by a process that was killed before
// it showed the card, the card may show other figures, and is put right.
func TestForeseen(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		memory := storetest.NewMemory(time.Now)
		for i, behind := range []int{0, 1} {
			store := &counting{Store: memory}
			b := record.New(slog.New(slog.DiscardHandler), time.Now, store, record.Options{})
			r, err := b.Make(t.Context(), record.Result{Surface: "page", Message: "1", At: time.Now()}, &record.Mark{Ref: "c/1"})
			if err != nil || !b.Kept(t.Context(), r.ID) {
				t.Fatalf("not kept: %v", err)
			}
			if id, _, err := memory.CardOf(t.Context(), "page", "c/1"); err != nil || id != r.ID {
				t.Errorf("process %d: the card that will come is of %q, %v", i, id, err)
			}
			if err := errors.Join(b.Shown(t.Context(), "page", "c/1", r.ID), b.Written(t.Context())); err != nil {
				t.Fatal(err)
			}
			if all, err := memory.Untold(t.Context(), time.Now(), 9); err != nil || len(all) != behind || i == 0 && store.cards > 0 {
				t.Errorf("process %d: %d cards to be put right, want %d, after %d transactions of cards: %v", i, len(all), behind, store.cards, err)
			}
			b.Close()
		}
	})
}
