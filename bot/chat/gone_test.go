package chat_test

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"slices"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"firn/bot/chat"
	"firn/bot/testkit/storetest"
)

// line is the way of one replica to the store that all have.
type line struct {
	*storetest.Memory
	mu    sync.Mutex
	gone  bool          // it is refused
	hangs bool          // nothing is said
	slow  time.Duration // it is said so late
}

func (l *line) Lease(ctx context.Context, name, holder string, d time.Duration) (bool, error) {
	l.mu.Lock()
	gone, hangs, slow := l.gone, l.hangs, l.slow
	l.mu.Unlock()
	switch {
	case hangs:
		<-ctx.Done()
		return false, ctx.Err()
	case gone:
		return false, errors.New("nobody listens there")
	}
	time.Sleep(slow)
	return l.Memory.Lease(ctx, name, holder, d)
}

// service is one on which every replica answers; whoever looks first sees what
// stands.
type service struct {
	*surface
	mu    sync.Mutex
	began time.Time
	posts []string // who answered, and after how long
}

// on is the service as one replica has it.
type on struct {
	*service
	replica string
}

func (s on) Answer(_ context.Context, e chat.Event, _ chat.Message) (chat.Ref, error) {
	s.mu.Lock()
	stands := len(s.posts) > 0
	s.mu.Unlock()
	if e.Again && stands {
		return "b1", nil
	}
	time.Sleep(20 * time.Millisecond) // on the way
	s.mu.Lock()
	defer s.mu.Unlock()
	s.posts = append(s.posts, fmt.Sprintf("%s after %v", s.replica, time.Since(s.began).Round(time.Millisecond)))
	return "b1", nil
}

// replicas are three over one store that have known of each other for a while.
type replicas struct {
	names []string
	lines map[string]*line
	desks map[string]*chat.Dispatcher
	peers map[string]*chat.Peers
	*service
}

func newReplicas(t *testing.T) *replicas {
	r := &replicas{lines: map[string]*line{}, desks: map[string]*chat.Dispatcher{}, peers: map[string]*chat.Peers{}, service: &service{surface: &surface{name: "slack"}}}
	store := storetest.NewMemory(time.Now)
	for _, name := range []string{"a", "b", "c"} {
		r.lines[name], r.peers[name] = &line{Memory: store}, &chat.Peers{}
		var set chat.Settings
		set.Where = map[string]chat.Where{"slack": {Home: "T1", Channels: []string{"C1"}}}
		chat.Taking{Log: slog.New(slog.DiscardHandler), Leases: r.lines[name], Peers: r.peers[name], Holder: name, Records: &writer{}}.Use(&set)
		r.desks[name] = chat.New(slog.New(slog.DiscardHandler), time.Now, &answerer{}, set)
	}
	for range 2 {
		for name, p := range r.peers {
			if err := p.Beat(t.Context(), r.lines[name], name, "", time.Minute); err != nil {
				t.Fatal(err)
			}
		}
	}
	// In the order in which the message of these tests is theirs.
	r.names = slices.SortedFunc(slices.Values([]string{"a", "b", "c"}), func(x, y string) int { return r.peers[x].Turn("slack/e1") - r.peers[y].Turn("slack/e1") })
	return r
}

// TestGoneStore: whatever becomes of the store, a message that three replicas get
// has one answer, and soon where its owner lives.
func TestGoneStore(t *testing.T) {
	gone := func(l *line) { l.gone = true }
	hangs := func(l *line) { l.hangs = true }
	back := func(l *line) { l.gone, l.hangs, l.slow = false, false, 0 }
	every := []int{0, 1, 2}
	plain := func(e *chat.Event) {}
	for _, c := range []struct {
		name  string
		event func(e *chat.Event)
		get   []int         // who gets the message: 0 is its owner
		store func(l *line) // as it is for those
		of    []int         // nil: all
		back  time.Duration // when it is back; zero: it stays so
		want  string        // who answers, after how long
	}{
		{"it is there", plain, every, back, nil, 0, "any after 20ms"},
		{"it is gone", plain, every, gone, nil, 0, "0 after 270ms"},
		{"it hangs", plain, every, hangs, nil, 0, "0 after 270ms"},
		{"it is gone, the owner is dead", plain, []int{1, 2}, gone, nil, 0, "1 after 6.195s"},
		{"it hangs, the owner is dead", plain, []int{1, 2}, hangs, nil, 0, "1 after 6.52s"},
		{"it is gone, two are dead", plain, []int{2}, gone, nil, 0, "2 after 8.195s"},
		{"it is back before the owner answers", plain, every, gone, nil, 100 * time.Millisecond, "any after 195ms"},
		{"it is back in the middle", plain, every, gone, nil, time.Second, "0 after 270ms"},
		{"it is back as the others look", plain, every, gone, nil, 6100 * time.Millisecond, "0 after 270ms"},
		{"it is back, the owner is dead", plain, []int{1, 2}, gone, nil, time.Second, "1 after 6.195s"},
		{"it is gone for the owner alone", plain, every, gone, []int{0}, 0, "any after 20ms"},
		{"it is gone for another", plain, every, gone, []int{1}, 0, "any after 20ms"},
		{"it is slow", plain, every, func(l *line) { l.slow = time.Second }, nil, 0, "0 after 270ms"},
		{"it is slow for all but the owner", plain, every, func(l *line) { l.slow = time.Second }, []int{1, 2}, 0, "0 after 20ms"},
		{"a check waits for it", func(e *chat.Event) { e.Text = "check" }, every, gone, nil, time.Second, "0 after 1.195s"},
		{"a check waits no longer than the others", func(e *chat.Event) { e.Text = "check" }, every, gone, nil, 0, "any after 6.02s"},
		{"told to one alone", func(e *chat.Event) { e.Sole = true }, []int{2}, gone, nil, 0, "2 after 270ms"},
		{"told twice to one", func(e *chat.Event) { e.Paired = true }, []int{2, 2}, gone, nil, 0, "2 after 195ms"},
		{"told twice, to two", func(e *chat.Event) { e.Paired = true }, []int{2, 0}, gone, nil, 0, "0 after 270ms"},
	} {
		t.Run(c.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				r := newReplicas(t)
				if c.of == nil {
					c.of = every
				}
				for _, i := range c.of {
					c.store(r.lines[r.names[i]])
				}
				r.began = time.Now()
				var all sync.WaitGroup
				for k, i := range c.get {
					all.Go(func() {
						time.Sleep(time.Duration(k) * time.Microsecond)
						e := said(1, "a")
						c.event(&e)
						r.desks[r.names[i]].Handle(t.Context(), on{r.service, fmt.Sprint(i)}, e)
					})
				}
				if c.back > 0 {
					time.Sleep(c.back)
					for _, l := range r.lines {
						l.mu.Lock()
						back(l)
						l.mu.Unlock()
					}
				}
				time.Sleep(2 * time.Minute)
				synctest.Wait()
				all.Wait()
				if len(r.posts) != 1 || r.posts[0] != c.want && "any"+r.posts[0][1:] != c.want {
					t.Errorf("answered %q, want %q", r.posts, c.want)
				}
				for _, d := range r.desks {
					d.Wait()
				}
			})
		})
	}
}

// TestPeers: processes know of each other what the store said last, and each
// message is one's.
func TestPeers(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		store := storetest.NewMemory(time.Now)
		peers := map[string]*chat.Peers{"a": {}, "b": {}, "c": {}}
		beat := func(names ...string) {
			t.Helper()
			for _, name := range names {
				if err := peers[name].Beat(t.Context(), store, name, "", chat.BeatsMissed*chat.BeatEvery); err != nil {
					t.Fatal(err)
				}
			}
		}
		// owners counts who of them own how many of a hundred messages.
		owners := func(want int, names ...string) map[string]int {
			t.Helper()
			n := map[string]int{}
			for i := range 100 {
				owned := 0
				for _, name := range names {
					if peers[name].Turn(fmt.Sprint("slack/", i)) == 0 {
						n[name]++
						owned++
					}
				}
				if owned != want {
					t.Errorf("message %d is %d replicas' own, want %d", i, owned, want)
				}
			}
			return n
		}
		owners(1, "a")
		beat("a", "b")
		beat("a", "b")
		if n := owners(1, "a", "b"); n["a"] < 25 || n["b"] < 25 {
			t.Errorf("they own %v", n)
		}
		beat("c") // it has just started
		if n := owners(1, "a", "b", "c"); n["c"] > 0 {
			t.Errorf("whoever has just started owns %v", n)
		}
		beat("a", "b", "c")
		if n := owners(1, "a", "b", "c"); n["a"] < 15 || n["b"] < 15 || n["c"] < 15 {
			t.Errorf("they own %v", n)
		}
		for range chat.BeatsMissed {
			time.Sleep(chat.BeatEvery)
			beat("a", "b")
		}
		owners(1, "a", "b") // c is dead
		if err := peers["b"].Leave(t.Context(), store); err != nil {
			t.Fatal(err)
		}
		beat("a")
		owners(1, "a")
		all, err := store.Held(t.Context(), chat.PlaceNames()...)
		if err != nil || len(all) != 3 {
			t.Fatalf("the roll is %+v, %v", all, err)
		}
		// More than there are places: whoever has none waits for the others.
		for i := range 20 {
			peers[fmt.Sprint(i)] = &chat.Peers{}
			beat(fmt.Sprint(i))
		}
		if n := owners(0, "19"); n["19"] > 0 {
			t.Errorf("it owns %v", n)
		}
	})
}
