package storetest

import (
	"context"
	"maps"
	"math"
	"slices"
	"sync"
	"testing"
	"time"

	"firn/bot/bases"
	"firn/bot/config"
	"firn/bot/outbox"
	"firn/bot/reply"
)

// BaseStore keeps added bases beside the queue that their posts go to.
type BaseStore interface {
	Store
	bases.Store
}

// RunBases holds a store of added bases to its port. open gives an empty one
// each time, which is open's to close.
func RunBases(t *testing.T, open func(t *testing.T) BaseStore) {
	for _, c := range []struct {
		name string
		run  func(*testing.T, BaseStore)
	}{
		{"a base is added once and dropped once", baseOnce},
		{"a base and its posts are all or nothing", baseAllOrNothing},
		{"of eight who add one base one does", baseRace},
	} {
		t.Run(c.name, func(t *testing.T) { c.run(t, open(t)) })
	}
}

func added(ident string) bases.Base {
	return bases.Base{
		Ident: ident, At: config.TimeOfDay{Hour: 5, Minute: 30}, Window: 24 * time.Hour, Channels: []string{"slack:C01"},
		By: "Anna (slack:U1)", Made: morning.Add(123456 * time.Microsecond),
	}
}

func basePost(key string) []outbox.Item {
	return []outbox.Item{{Key: key, Channel: "page", Body: reply.Reply{Kind: reply.KindNotice, Facts: []string{key}}, Made: morning, Due: morning}}
}

func baseOnce(t *testing.T, s BaseStore) {
	ctx := t.Context()
	plain := bases.Base{Ident: "XABC", At: config.TimeOfDay{Hour: 6}, Window: time.Hour, By: "Bo", Made: morning}
	for _, c := range []struct {
		base bases.Base
		key  string
		want bool
	}{{added("XRUN"), "base/one", true}, {plain, "base/two", true}, {added("XABC"), "base/three", false}} {
		if fresh, err := s.AddBase(ctx, c.base, basePost(c.key)); err != nil || fresh != c.want {
			t.Errorf("AddBase %s = %v, %v", c.key, fresh, err)
		}
	}
	all, err := s.Bases(ctx)
	if err != nil {
		t.Fatal(err)
	}
	same(t, "bases", all, []bases.Base{plain, added("XRUN")})
	for _, want := range []bool{true, false} {
		if was, err := s.DropBase(ctx, "XABC", basePost("base/four")); err != nil || was != want {
			t.Errorf("DropBase = %v, %v; want %v", was, err, want)
		}
	}
	if was, err := s.DropBase(ctx, "XQQQ", basePost("base/five")); err != nil || was {
		t.Errorf("DropBase of none = %v, %v", was, err)
	}
	same(t, "posts", keys(mustClaim(t, s, long, 10)), []string{"base/one@page", "base/two@page", "base/four@page"})
	if fresh, err := s.AddBase(ctx, plain, nil); err != nil || !fresh {
		t.Errorf("added again: %v, %v", fresh, err)
	}
}

func baseAllOrNothing(t *testing.T, s BaseStore) {
	bad := basePost("base/one")
	bad[0].Body.TemperatureC = reply.Some(math.NaN()) // has no JSON
	if fresh, err := s.AddBase(t.Context(), added("XABC"), bad); err == nil || fresh {
		t.Errorf("AddBase with a post that cannot be kept = %v, %v", fresh, err)
	}
	ended, cancel := context.WithCancel(t.Context())
	cancel()
	if fresh, err := s.AddBase(ended, added("XABC"), nil); err == nil || fresh {
		t.Errorf("AddBase of one who is gone = %v, %v", fresh, err)
	}
	if all, err := s.Bases(t.Context()); err != nil || len(all) > 0 {
		t.Errorf("kept %v, %v", all, err)
	}
	same(t, "posts", keys(mustClaim(t, s, long, 10)), []string(nil))
}

func baseRace(t *testing.T, s BaseStore) {
	var all sync.WaitGroup
	fresh := make([]bool, 8)
	for i := range fresh {
		all.Go(func() {
			var err error
			if fresh[i], err = s.AddBase(t.Context(), added("XABC"), basePost("base/one")); err != nil {
				t.Error(err)
			}
		})
	}
	all.Wait()
	n := 0
	for _, f := range fresh {
		if f {
			n++
		}
	}
	if posts := len(mustClaim(t, s, long, 10)); n != 1 || posts != 1 {
		t.Errorf("%d added it, %d posts; want 1 and 1", n, posts)
	}
}

// Bases are those that were added.
func (m *Memory) Bases(ctx context.Context) ([]bases.Base, error) {
	if err := m.begin(ctx); err != nil {
		return nil, err
	}
	defer m.mu.Unlock()
	var all []bases.Base
	for _, ident := range slices.Sorted(maps.Keys(m.bases)) {
		all = append(all, m.bases[ident])
	}
	return all, nil
}

// AddBase keeps one, unless it is there.
func (m *Memory) AddBase(ctx context.Context, b bases.Base, posts []outbox.Item) (fresh bool, err error) {
	items, err := itemsOf(posts)
	if err != nil {
		return false, err
	}
	if err := m.begin(ctx); err != nil {
		return false, err
	}
	defer m.mu.Unlock()
	if _, there := m.bases[b.Ident]; there {
		return false, nil
	}
	if m.bases == nil {
		m.bases = map[string]bases.Base{}
	}
	m.bases[b.Ident] = b
	m.enqueue(items)
	return true, nil
}

// DropBase ends one, if it is there.
func (m *Memory) DropBase(ctx context.Context, ident string, posts []outbox.Item) (was bool, err error) {
	items, err := itemsOf(posts)
	if err != nil {
		return false, err
	}
	if err := m.begin(ctx); err != nil {
		return false, err
	}
	defer m.mu.Unlock()
	if _, there := m.bases[ident]; !there {
		return false, nil
	}
	delete(m.bases, ident)
	m.enqueue(items)
	return true, nil
}
