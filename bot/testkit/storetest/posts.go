package storetest

import (
	"context"
	"fmt"
	"math"
	"sync"
	"testing"

	"firn/bot/outbox"
	"firn/bot/reply"
)

// AddPosts writes posts that come of no alert.
func (m *Memory) AddPosts(ctx context.Context, posts []outbox.Item) (fresh int, err error) {
	return m.add(ctx, posts, false)
}

// AddNext writes posts that follow each other, unless another did.
func (m *Memory) AddNext(ctx context.Context, posts []outbox.Item) (fresh int, err error) {
	return m.add(ctx, posts, true)
}

func (m *Memory) add(ctx context.Context, posts []outbox.Item, next bool) (fresh int, err error) {
	items, err := itemsOf(posts)
	if err != nil {
		return 0, fmt.Errorf("add posts: %w", err)
	}
	if err := m.begin(ctx); err != nil {
		return 0, err
	}
	defer m.mu.Unlock()
	if next && len(items) > 0 && m.posted[itemKey{items[0].Key, items[0].Channel}] != nil {
		return 0, nil
	}
	before := len(m.items)
	m.enqueue(items)
	return len(m.items) - before, nil
}

// resultPost is a result's post to a channel.
func resultPost(channel string) outbox.Item {
	return outbox.Item{
		Key: "result/KALOMI-RUTA", Channel: channel, Body: reply.Reply{Kind: reply.KindCorrection, Facts: []string{"8990"}},
		Made: morning, Due: morning,
	}
}

// postsOnce: a post is written once, whoever comes second and whatever it says
// then, and beside those of alerts.
func postsOnce(t *testing.T, s Store) {
	ctx := t.Context()
	mustOpen(t, s, alert(1), post(alert(1), "page"))
	again := resultPost("page")
	again.Body.Facts = []string{"9000"}
	for i, c := range []struct {
		posts []outbox.Item
		want  int
	}{
		{[]outbox.Item{resultPost("page")}, 1},
		{[]outbox.Item{again, resultPost("slack:C1")}, 1},
		{[]outbox.Item{again, resultPost("slack:C1")}, 0},
		{nil, 0},
	} {
		if fresh, err := s.AddPosts(ctx, c.posts); err != nil || fresh != c.want {
			t.Errorf("AddPosts %d = %d, %v; want %d", i, fresh, err, c.want)
		}
	}
	claims := mustClaim(t, s, long, 10)
	same(t, "posts", keys(claims), []string{"alert/XKLD/2026-01-15/1@page", "result/KALOMI-RUTA@page", "result/KALOMI-RUTA@slack:C1"})
	same(t, "what the first one says", claims[1].Item, resultPost("page"))
	if held, err := s.Done(ctx, claims[1], "ref", morning); err != nil || !held {
		t.Fatalf("Done = %v, %v", held, err)
	}
	if fresh, err := s.AddPosts(ctx, []outbox.Item{resultPost("page")}); err != nil || fresh != 0 {
		t.Errorf("a post that was sent is added again: %d, %v", fresh, err)
	}
}

// postsAllOrNothing: one that cannot be kept takes the others with it.
func postsAllOrNothing(t *testing.T, s Store) {
	broken := resultPost("slack:C1")
	broken.Body.TemperatureC = reply.Some(math.NaN()) // has no JSON
	for _, bad := range []outbox.Item{broken, resultPost("slack:\x00")} {
		if fresh, err := s.AddPosts(t.Context(), []outbox.Item{resultPost("page"), bad}); fresh != 0 || err == nil {
			t.Errorf("AddPosts with one that cannot be kept = %d, %v, want an error", fresh, err)
		}
	}
	same(t, "posts", keys(mustClaim(t, s, long, 10)), []string(nil))
}

// postsNext: whoever writes the next number first writes all that follows it,
// also where several do at once and each has another number of words.
func postsNext(t *testing.T, s Store) {
	said := func(who, n int) outbox.Item {
		p := resultPost("page")
		p.Key, p.Body.Facts = fmt.Sprintf("digest/2026-01-15/%d", n), []string{fmt.Sprint(who)}
		return p
	}
	var all sync.WaitGroup
	fresh, errs := make([]int, 8), make([]error, 8)
	for i := range fresh {
		var words []outbox.Item
		for n := range i + 1 {
			words = append(words, said(i, n+1))
		}
		all.Go(func() { fresh[i], errs[i] = s.AddNext(t.Context(), words) })
	}
	all.Wait()
	first := -1
	for i, n := range fresh {
		switch {
		case errs[i] != nil:
			t.Error(errs[i])
		case n > 0 && (first >= 0 || n != i+1):
			t.Errorf("%v were written, want all of one", fresh)
		case n > 0:
			first = i
		}
	}
	claims := mustClaim(t, s, long, 20)
	for _, c := range claims {
		if first < 0 || c.Body.Facts[0] != fmt.Sprint(first) {
			t.Errorf("%s is said by %v, want %d", c.Key, c.Body.Facts, first)
		}
	}
	for n, want := range map[int]int{first + 1: 0, first + 2: 2} { // the last that is there, and the next
		if got, err := s.AddNext(t.Context(), []outbox.Item{said(9, n), said(9, n+1)}); err != nil || got != want {
			t.Errorf("AddNext from %d = %d, %v; want %d", n, got, err, want)
		}
	}
	if got, err := s.AddNext(t.Context(), nil); got != 0 || err != nil {
		t.Errorf("AddNext of none = %d, %v", got, err)
	}
}

// postsRace: of several that add the same at once one does.
func postsRace(t *testing.T, s Store) {
	var all sync.WaitGroup
	fresh, errs := make([]int, 8), make([]error, 8)
	for i := range fresh {
		all.Go(func() { fresh[i], errs[i] = s.AddPosts(t.Context(), []outbox.Item{resultPost("page")}) })
	}
	all.Wait()
	sum := 0
	for i, err := range errs {
		sum += fresh[i]
		if err != nil {
			t.Error(err)
		}
	}
	if got := len(mustClaim(t, s, long, 10)); sum != 1 || got != 1 {
		t.Errorf("%d were added and %d are there, want 1", sum, got)
	}
}
