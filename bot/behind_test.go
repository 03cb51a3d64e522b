package bot_test

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"sync"
	"testing"
	"testing/synctest"

	"firn/bot"
)

// slate is a store of results that can fail.
type slate struct {
	mu    sync.Mutex
	kept  map[string]bool
	calls int
	fails int // so many calls fail first
	bad   string
}

func (s *slate) SaveResult(ctx context.Context, r bot.Result) (bool, error) {
	n, err := s.SaveResults(ctx, []bot.Result{r})
	return n > 0, err
}

func (s *slate) SaveResults(_ context.Context, all []bot.Result) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.calls++
	if s.calls <= s.fails {
		return 0, errors.New("down")
	}
	for _, r := range all {
		if r.ID == s.bad {
			return 0, errors.New("bad")
		}
	}
	for _, r := range all {
		s.kept[r.ID] = true
	}
	return len(all), nil
}

func TestBehind(t *testing.T) {
	for _, c := range []struct {
		name  string
		store *slate
		want  int
	}{
		{"all are kept", &slate{}, 1000},
		{"a store that is down for a while", &slate{fails: 3}, 1000},
		{"one bad result costs no other", &slate{bad: "7"}, 999},
	} {
		t.Run(c.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				c.store.kept = map[string]bool{}
				b := bot.NewBehind(slog.New(slog.DiscardHandler), c.store)
				for i := range 1000 {
					if _, err := b.SaveResult(t.Context(), bot.Result{ID: fmt.Sprint(i)}); err != nil {
						t.Fatal(err)
					}
				}
				b.Close()
				if len(c.store.kept) != c.want {
					t.Errorf("%d are kept, want %d", len(c.store.kept), c.want)
				}
				if _, err := b.SaveResult(t.Context(), bot.Result{ID: "after"}); err != nil || !c.store.kept["after"] {
					t.Errorf("after Close: %v, kept %v", err, c.store.kept["after"])
				}
				b.Close()
			})
		})
	}
}

// Many share a transaction.
func TestBehindBatches(t *testing.T) {
	s := &slate{kept: map[string]bool{}}
	s.mu.Lock() // the first write waits
	b := bot.NewBehind(slog.New(slog.DiscardHandler), s)
	for i := range 1000 {
		if _, err := b.SaveResult(t.Context(), bot.Result{ID: fmt.Sprint(i)}); err != nil {
			t.Fatal(err)
		}
	}
	s.mu.Unlock()
	b.Close()
	if s.calls > 6 || len(s.kept) != 1000 {
		t.Errorf("%d calls for %d results, want few", s.calls, len(s.kept))
	}
}
