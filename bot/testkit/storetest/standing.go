package storetest

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"firn/bot/outbox"
)

// Standing gives the posts that were sent whose key begins with a text.
func (m *Memory) Standing(ctx context.Context, prefix string, since time.Time) ([]outbox.Shown, error) {
	return m.posts(ctx, prefix, since, func(state itemState) bool { return state == sent })
}

// Posts gives those whose key begins with a text, sent or not.
func (m *Memory) Posts(ctx context.Context, prefix string, since time.Time) ([]outbox.Shown, error) {
	return m.posts(ctx, prefix, since, func(itemState) bool { return true })
}

func (m *Memory) posts(ctx context.Context, prefix string, since time.Time, wanted func(state itemState) bool) (all []outbox.Shown, err error) {
	if err := m.begin(ctx); err != nil {
		return nil, fmt.Errorf("posts that stand: %w", err)
	}
	defer m.mu.Unlock()
	for _, it := range m.posted {
		if !wanted(it.state) || !strings.HasPrefix(it.Key, prefix) || it.Made.Before(instant(since)) {
			continue
		}
		p := outbox.Shown{Item: it.Item, Ref: it.ref}
		if err := json.Unmarshal(it.body, &p.Body); err != nil {
			return nil, fmt.Errorf("posts that stand: %w", err)
		}
		all = append(all, p)
	}
	return all, nil
}

// postsStanding: what was sent is given with its reference, and nothing else.
func postsStanding(t *testing.T, s Store) {
	fill(t, s, 4)
	claims := mustClaim(t, s, long, 3)
	for i, c := range claims[:2] {
		if held, err := s.Done(t.Context(), c, fmt.Sprint("ref ", i), later); !held || err != nil {
			t.Fatal(held, err)
		}
	}
	if held, err := s.GiveUp(t.Context(), claims[2], "gone", later); !held || err != nil {
		t.Fatal(held, err)
	}
	for _, c := range []struct {
		prefix string
		since  time.Time
		want   []outbox.Shown
	}{
		{"alert/", claims[0].Made, []outbox.Shown{{Item: claims[0].Item, Ref: "ref 0"}, {Item: claims[1].Item, Ref: "ref 1"}}},
		{claims[1].Key, time.Time{}, []outbox.Shown{{Item: claims[1].Item, Ref: "ref 1"}}},
		{"alert/%", time.Time{}, nil},
		{"ack/", time.Time{}, nil},
		{"alert/", claims[0].Made.Add(time.Hour), nil},
	} {
		got, err := s.Standing(t.Context(), c.prefix, c.since)
		if err != nil {
			t.Fatal(err)
		}
		slices.SortFunc(got, func(a, b outbox.Shown) int { return strings.Compare(a.Ref, b.Ref) })
		same(t, "what stands of "+c.prefix, got, c.want)
	}
	all, err := s.Posts(t.Context(), "alert/", claims[0].Made)
	if err != nil || len(all) != 4 {
		t.Fatalf("the posts are %d, %v; want all 4", len(all), err)
	}
	refs := 0
	for _, p := range all {
		if p.Ref != "" {
			refs++
		}
	}
	if refs != 2 {
		t.Errorf("%d of the posts have a reference, want 2", refs)
	}
}
