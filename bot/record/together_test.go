package record_test

import (
	"context"
	"fmt"
	"log/slog"
	"testing"
	"testing/synctest"
	"time"

	"firn/bot/record"
	"firn/bot/testkit/storetest"
)

// counting counts the transactions that the book asks for.
type counting struct {
	record.Store
	records, cards int
}

func (c *counting) AddRecords(ctx context.Context, all []record.Result, cards ...record.Mark) ([]record.Added, error) {
	c.records++
	return c.Store.AddRecords(ctx, all, cards...)
}

func (c *counting) AddCards(ctx context.Context, all []record.Mark) error {
	c.cards++
	return c.Store.AddCards(ctx, all)
}

// TestTogether: records and cards that come at once are one transaction, and a
// card that the store refuses costs no record.
func TestTogether(t *testing.T) {
	for _, c := range []struct {
		name           string
		ref            string // of the last card
		records, cards int    // transactions
	}{
		{"in one", "C1/9", 1, 0},
		{"a card that the store refuses", "C1/\x00", 2, 5},
	} {
		t.Run(c.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				memory := storetest.NewMemory(time.Now)
				store := &counting{Store: memory}
				b := record.New(slog.New(slog.DiscardHandler), time.Now, store, record.Options{})
				defer b.Close()
				for i := range 10 {
					r, err := b.Make(t.Context(), record.Result{Surface: "slack", Message: fmt.Sprint("C1/", i, "q"), At: time.Now()}, nil)
					if err != nil {
						t.Fatal(err)
					}
					ref := fmt.Sprint("C1/", i)
					if i == 9 {
						ref = c.ref
					}
					if err := b.Shown(t.Context(), "slack", ref, r.ID); err != nil {
						t.Fatal(err)
					}
				}
				if err := b.Written(t.Context()); err != nil {
					t.Fatal(err)
				}
				if store.records != c.records || store.cards != c.cards {
					t.Errorf("%d transactions of records and %d of cards, want %d and %d", store.records, store.cards, c.records, c.cards)
				}
				rep, err := record.Verify(t.Context(), memory)
				if err != nil || rep.Records != 10 || len(rep.Findings) > 0 {
					t.Errorf("%+v, %v", rep, err)
				}
				if _, found, err := memory.CardOf(t.Context(), "slack", "C1/0"); err != nil || found != (c.cards == 0) {
					t.Errorf("the first card: %v, %v", found, err)
				}
			})
		})
	}
}
