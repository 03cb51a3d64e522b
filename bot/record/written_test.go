package record_test

import (
	"context"
	"testing"
	"testing/synctest"
	"time"

	"firn/bot/record"
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
