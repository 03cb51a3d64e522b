package storetest

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"firn/bot/access"
	"firn/bot/pagestate"
	"firn/bot/record"
	"firn/bot/watch"
)

// RunRoom runs the suite of pagestate.Store; open gives an empty store, which is
// emptied again before each test.
func RunRoom(t *testing.T, open func(t *testing.T) pagestate.Store) {
	s, end := open(t), at(1e6)
	for _, c := range []struct {
		name string
		test func(*testing.T, pagestate.Store)
	}{
		{"every field of an entry is kept", entryFields},
		{"an entry is edited in its place", entryEdited},
		{"what changed after a revision", entriesSince},
		{"files are kept beside an entry", entryFiles},
		{"an edit that is not kept leaves nothing", entryNotKept},
		{"eight edit one entry at once", entryRace},
		{"the oldest make room", entriesMakeRoom},
		{"what is below an entry goes with it", belowGoes},
		{"old conversations make room", placesMakeRoom},
		{"a conversation is forgotten", placeForgotten},
		{"what is old is swept", roomSwept},
		{"what is no text is refused", entryNoText},
		{"a cancelled context changes nothing", roomCancelled},
	} {
		t.Run(c.name, func(t *testing.T) {
			if err := s.Sweep(t.Context(), end, end, 0); err != nil {
				t.Fatal(err)
			}
			c.test(t, s)
		})
	}
}

// stand puts an entry in a place; made is at(n).
func stand(t testing.TB, s pagestate.Store, place, under, id string, n int, body string) {
	t.Helper()
	err := s.Edit(t.Context(), place, id, at(n), func(e pagestate.Entry, found bool) (pagestate.Entry, bool) {
		if !found {
			e.Under, e.Made = under, at(n)
		}
		e.Body = body
		return e, true
	})
	if err != nil {
		t.Fatalf("Edit(%s, %s): %v", place, id, err)
	}
}

// bodies are what was edited after a revision, and the place's.
func bodies(t testing.TB, s pagestate.Store, place string, after int64) (all []string, rev int64) {
	t.Helper()
	entries, rev, err := s.Since(t.Context(), place, after)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		if e.Rev <= after || e.Rev > rev {
			t.Errorf("after %d, of a place at %d, there is an entry of %d", after, rev, e.Rev)
		}
		all = append(all, e.Body)
	}
	return all, rev
}

func entryFields(t *testing.T, s pagestate.Store) {
	if all, rev := bodies(t, s, "a", 0); len(all) != 0 || rev != 0 {
		t.Errorf("an empty store has %q at %d", all, rev)
	}
	want := pagestate.Entry{Place: "a", ID: "1", Under: "0", Made: at(3).Add(7 * time.Microsecond), Body: `{"say":"北海道 −38 \u0000"}`}
	err := s.Edit(t.Context(), "a", "1", at(4), func(e pagestate.Entry, found bool) (pagestate.Entry, bool) {
		if found || e.Place != "a" || e.ID != "1" {
			t.Errorf("there is %+v, %v before", e, found)
		}
		return want, true
	})
	if err != nil {
		t.Fatal(err)
	}
	got, found, err := s.Entry(t.Context(), "a", "1")
	if !found || err != nil || got.Rev == 0 {
		t.Fatalf("Entry = %+v, %v, %v", got, found, err)
	}
	want.Rev = got.Rev
	same(t, "entry", got, want)
	all, rev, err := s.Since(t.Context(), "a", 0)
	if err != nil || rev != got.Rev {
		t.Errorf("the place is at %d, %v, want %d", rev, err, got.Rev)
	}
	same(t, "the place's entries", all, []pagestate.Entry{want})
	for _, no := range [][2]string{{"a", "2"}, {"b", "1"}, {"", ""}} {
		if _, found, err := s.Entry(t.Context(), no[0], no[1]); found || err != nil {
			t.Errorf("Entry(%q) = %v, %v", no, found, err)
		}
	}
}

func entryEdited(t *testing.T, s pagestate.Store) {
	stand(t, s, "a", "", "1", 1, "one")
	stand(t, s, "a", "", "2", 2, "two")
	stand(t, s, "a", "", "1", 3, "one, changed")
	all, _ := bodies(t, s, "a", 0)
	same(t, "in the order in which they were made", all, []string{"one, changed", "two"})
	e, _, err := s.Entry(t.Context(), "a", "1")
	if err != nil || !e.Made.Equal(at(1)) {
		t.Errorf("made %v, %v, want %v", e.Made, err, at(1))
	}
}

func entriesSince(t *testing.T, s pagestate.Store) {
	stand(t, s, "a", "", "1", 9, "one")
	_, first := bodies(t, s, "a", 0)
	stand(t, s, "b", "", "1", 9, "elsewhere")
	if all, rev := bodies(t, s, "a", first); len(all) != 0 || rev != first {
		t.Errorf("after nothing happened: %q at %d, want none at %d", all, rev, first)
	}
	stand(t, s, "a", "", "2", 1, "two") // by a clock that is behind
	all, second := bodies(t, s, "a", first)
	same(t, "what is new", all, []string{"two"})
	stand(t, s, "a", "", "1", 1, "one, changed")
	all, _ = bodies(t, s, "a", second)
	same(t, "what is changed", all, []string{"one, changed"})
	all, _ = bodies(t, s, "a", first)
	same(t, "both", all, []string{"one, changed", "two"})
}

func entryFiles(t *testing.T, s pagestate.Store) {
	edit := func(files [][]byte) {
		t.Helper()
		if err := s.Edit(t.Context(), "a", "1", at(1), func(e pagestate.Entry, _ bool) (pagestate.Entry, bool) {
			if e.Files != nil {
				t.Errorf("an entry comes with %d files", len(e.Files))
			}
			e.Files = files
			return e, true
		}); err != nil {
			t.Fatal(err)
		}
	}
	want := func(all ...string) {
		t.Helper()
		for n := range len(all) + 1 {
			data, found, err := s.File(t.Context(), "a", "1", n)
			if err != nil || found != (n < len(all)) || found && string(data) != all[n] {
				t.Errorf("file %d = %q, %v, %v; want %q", n, data, found, err, all)
			}
		}
	}
	edit([][]byte{[]byte("\x00\xffPNG"), {}})
	want("\x00\xffPNG", "")
	edit(nil)
	want("\x00\xffPNG", "")
	edit([][]byte{[]byte("other")})
	want("other")
	edit([][]byte{})
	want()
}

func entryNotKept(t *testing.T, s pagestate.Store) {
	not := func(id string) {
		t.Helper()
		if err := s.Edit(t.Context(), "a", id, at(5), func(e pagestate.Entry, _ bool) (pagestate.Entry, bool) {
			e.Body = "not kept"
			return e, false
		}); err != nil {
			t.Fatal(err)
		}
	}
	not("1")
	if all, rev := bodies(t, s, "a", 0); len(all) != 0 || rev != 0 {
		t.Errorf("there is %q at %d", all, rev)
	}
	stand(t, s, "a", "", "1", 1, "one")
	_, was := bodies(t, s, "a", 0)
	not("1")
	not("2")
	all, rev := bodies(t, s, "a", 0)
	same(t, "entries", all, []string{"one"})
	if rev != was {
		t.Errorf("the place is at %d, want %d", rev, was)
	}
}

// entryRace: no edit is lost, and each has a revision of its own.
func entryRace(t *testing.T, s pagestate.Store) {
	var wg sync.WaitGroup
	var mu sync.Mutex
	seen := map[int64]int{}
	for w := range 8 {
		wg.Go(func() {
			for n := range 5 {
				if err := s.Edit(t.Context(), "a", "1", at(n), func(e pagestate.Entry, _ bool) (pagestate.Entry, bool) {
					e.Body += "x"
					mu.Lock()
					seen[e.Rev]++
					mu.Unlock()
					return e, true
				}); err != nil {
					t.Errorf("Edit: %v", err)
				}
				stand(t, s, "a", "", fmt.Sprint("of ", w), n, "y")
			}
		})
	}
	wg.Wait()
	e, _, err := s.Entry(t.Context(), "a", "1")
	if err != nil || e.Body != strings.Repeat("x", 40) || len(seen) != 40 {
		t.Errorf("40 edits left %q at %d revisions, %v", e.Body, len(seen), err)
	}
	if all, _ := bodies(t, s, "a", 0); len(all) != 9 {
		t.Errorf("%d entries, want 9", len(all))
	}
}

// entriesMakeRoom: an edit makes an entry no younger.
func entriesMakeRoom(t *testing.T, s pagestate.Store) {
	for i := range pagestate.MostCards {
		stand(t, s, "a", "", fmt.Sprint(i), i, fmt.Sprint(i))
	}
	stand(t, s, "a", "", "0", 99, "0, changed")
	stand(t, s, "a", "", "new", 100, "new")
	all, _ := bodies(t, s, "a", 0)
	if len(all) != pagestate.MostCards || all[0] != "1" || all[len(all)-1] != "new" {
		t.Errorf("%d entries from %s to %s, want %d from 1 to new", len(all), all[0], all[len(all)-1], pagestate.MostCards)
	}
}

func belowGoes(t *testing.T, s pagestate.Store) {
	for i := range pagestate.MostBelow + 2 {
		stand(t, s, pagestate.Posts, "0", fmt.Sprint("below ", i), i, "below")
	}
	stand(t, s, pagestate.Posts, "", "0", 30, "post")
	if all, _ := bodies(t, s, pagestate.Posts, 0); len(all) != pagestate.MostBelow+1 {
		t.Errorf("%d entries, want %d below one", len(all), pagestate.MostBelow)
	}
	if err := s.Edit(t.Context(), pagestate.Posts, "below 9", at(31), func(e pagestate.Entry, _ bool) (pagestate.Entry, bool) {
		e.Files = [][]byte{{1}}
		return e, true
	}); err != nil {
		t.Fatal(err)
	}
	for i := range pagestate.MostPosts {
		stand(t, s, pagestate.Posts, "", fmt.Sprint("later ", i), 40+i, "later")
	}
	all, _ := bodies(t, s, pagestate.Posts, 0)
	if len(all) != pagestate.MostPosts || slices.Contains(all, "below") || slices.Contains(all, "post") {
		t.Errorf("%d entries, want the later posts", len(all))
	}
	if _, found, err := s.File(t.Context(), pagestate.Posts, "below 9", 0); found || err != nil {
		t.Errorf("a file without its entry: %v, %v", found, err)
	}
}

func placesMakeRoom(t *testing.T, s pagestate.Store) {
	stand(t, s, pagestate.Posts, "", "1", 0, "post")
	for i := range 6 {
		stand(t, s, fmt.Sprint("talk ", i), "", "1", i+1, "x")
	}
	stand(t, s, "talk 1", "", "2", 9, "y")
	if err := s.Sweep(t.Context(), time.Time{}, time.Time{}, 4); err != nil {
		t.Fatal(err)
	}
	for name, want := range map[string]int{pagestate.Posts: 1, "talk 0": 0, "talk 1": 2, "talk 2": 0, "talk 3": 1, "talk 5": 1} {
		if all, rev := bodies(t, s, name, 0); len(all) != want || (rev == 0) != (want == 0) {
			t.Errorf("%s has %d entries at %d, want %d", name, len(all), rev, want)
		}
	}
}

func placeForgotten(t *testing.T, s pagestate.Store) {
	stand(t, s, "a", "", "1", 5, "one")
	stand(t, s, "b", "", "1", 5, "other")
	_, was := bodies(t, s, "a", 0)
	for range 2 {
		if err := s.Forget(t.Context(), "a"); err != nil {
			t.Fatal(err)
		}
	}
	if all, rev := bodies(t, s, "a", 0); len(all) != 0 || rev != 0 {
		t.Errorf("there is %q at %d", all, rev)
	}
	if all, _ := bodies(t, s, "b", 0); len(all) != 1 {
		t.Errorf("another conversation has %q", all)
	}
	// Whoever saw the old one sees what comes then.
	stand(t, s, "a", "", "2", 6, "anew")
	all, _ := bodies(t, s, "a", was)
	same(t, "after it was forgotten", all, []string{"anew"})
}

func roomSwept(t *testing.T, s pagestate.Store) {
	old := at(0).Add(-pagestate.PostLife)
	post := func(place, under, id string, when time.Time) {
		t.Helper()
		if err := s.Edit(t.Context(), place, id, when, func(e pagestate.Entry, _ bool) (pagestate.Entry, bool) {
			e.Under, e.Made, e.Body = under, when, "x"
			return e, true
		}); err != nil {
			t.Fatal(err)
		}
	}
	post(pagestate.Posts, "", "1", old)
	post(pagestate.Posts, "1", "below", at(0))
	post(pagestate.Posts, "", "2", old.Add(time.Hour))
	post("a", "", "1", at(0).Add(-pagestate.TalkLife))
	post("b", "", "1", at(0).Add(-pagestate.TalkLife))
	post("b", "", "2", at(0))
	if err := s.Sweep(t.Context(), at(0).Add(time.Minute-pagestate.TalkLife), at(0).Add(time.Minute-pagestate.PostLife), 9); err != nil {
		t.Fatal(err)
	}
	for name, want := range map[string]int{pagestate.Posts: 1, "a": 0, "b": 2} {
		if all, _ := bodies(t, s, name, 0); len(all) != want {
			t.Errorf("%s has %d entries, want %d", name, len(all), want)
		}
	}
}

func entryNoText(t *testing.T, s pagestate.Store) {
	for _, bad := range []string{"a\x00", "\xff"} {
		err := s.Edit(t.Context(), "a", "1", at(1), func(e pagestate.Entry, _ bool) (pagestate.Entry, bool) {
			e.Body = bad
			return e, true
		})
		if err == nil {
			switch s.(type) {
			case *pagestate.Memory, *pagestate.Spare: // nobody reads it but this process
			default:
				t.Errorf("%q is taken", bad)
			}
		}
	}
}

func roomCancelled(t *testing.T, s pagestate.Store) {
	stand(t, s, "a", "", "1", 1, "one")
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	for name, call := range map[string]func() error{
		"Edit": func() error {
			return s.Edit(ctx, "a", "1", at(2), func(e pagestate.Entry, _ bool) (pagestate.Entry, bool) { return e, true })
		},
		"Since":  func() error { _, _, err := s.Since(ctx, "a", 0); return err },
		"Entry":  func() error { _, _, err := s.Entry(ctx, "a", "1"); return err },
		"File":   func() error { _, _, err := s.File(ctx, "a", "1", 0); return err },
		"Forget": func() error { return s.Forget(ctx, "a") },
		"Sweep":  func() error { return s.Sweep(ctx, at(1e6), at(1e6), 0) },
	} {
		if err := call(); !errors.Is(err, context.Canceled) {
			t.Errorf("%s with a cancelled context: %v", name, err)
		}
	}
	all, _ := bodies(t, s, "a", 0)
	same(t, "afterwards", all, []string{"one"})
}

// Told is a store that tells what changes in it.
type Told interface {
	Store
	pagestate.Store
	pagestate.Feed
	access.Store
}

// follower keeps what a feed tells.
type follower struct {
	mu   sync.Mutex
	all  []pagestate.Change
	stop func() error
}

func follow(t *testing.T, f pagestate.Feed) *follower {
	t.Helper()
	l := &follower{}
	ctx, cancel := context.WithCancel(t.Context())
	ended := make(chan error, 1)
	go func() {
		ended <- f.Follow(ctx, func(c pagestate.Change) {
			l.mu.Lock()
			defer l.mu.Unlock()
			l.all = append(l.all, c)
		})
	}()
	l.stop = sync.OnceValue(func() error { cancel(); return <-ended })
	t.Cleanup(func() { _ = l.stop() })
	soon(t, "the feed begins with everything", func() bool { return l.has(pagestate.Change{Kind: pagestate.All}) })
	l.take()
	return l
}

// has says that a change was told, or that anything may have changed.
func (l *follower) has(c pagestate.Change) bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	return slices.Contains(l.all, c) || slices.Contains(l.all, pagestate.Change{Kind: pagestate.All})
}

func (l *follower) take() []pagestate.Change {
	l.mu.Lock()
	defer l.mu.Unlock()
	all := l.all
	l.all = nil
	return all
}

// RunFeed runs the suite of pagestate.Feed: what is done by one process is told in
// it and in the other. open gives two of them on one empty store.
func RunFeed(t *testing.T, open func(t *testing.T) (here, there Told)) {
	t.Run("each change is told here and there", func(t *testing.T) { changesTold(t, open) })
	t.Run("what does not happen is not told", func(t *testing.T) { notTold(t, open) })
	t.Run("following ends with its context", func(t *testing.T) {
		a, _ := open(t)
		if err := follow(t, a).stop(); !errors.Is(err, context.Canceled) {
			t.Errorf("Follow = %v", err)
		}
	})
}

func changesTold(t *testing.T, open func(t *testing.T) (here, there Told)) {
	a, b := open(t)
	if _, err := a.AddToken(t.Context(), access.Token{Name: "anna", Hash: access.Hash{1}, Scope: access.Ask, Made: at(1)}); err != nil {
		t.Fatal(err)
	}
	if _, _, err := a.Enter(t.Context(), access.Hash{1}, access.Session{Hash: access.Hash{9}, Made: at(1), Used: at(1)}, at(0)); err != nil {
		t.Fatal(err)
	}
	here, there := follow(t, a), follow(t, b)
	result, ended := made(1), pagestate.Change{Kind: pagestate.Access}
	for _, c := range []struct {
		name string
		do   func() error
		want pagestate.Change
	}{
		{"an entry", func() error { stand(t, a, "a", "", "1", 1, "one"); return nil }, pagestate.Change{Kind: pagestate.Place, ID: "a"}},
		{"an alert", func() error { mustOpen(t, a, alert(1)); return nil }, pagestate.Change{Kind: pagestate.Watch, ID: alert(1).Base}},
		{"an acknowledgement", func() error {
			_, err := a.Acknowledge(t.Context(), watch.Ack{Base: "XKLD", Day: "2026-01-15", Seq: 1, By: "anna", At: at(1)}, nil)
			return err
		}, pagestate.Change{Kind: pagestate.Watch, ID: "XKLD"}},
		{"a snooze", func() error { return a.Snooze(t.Context(), "XRUN", "2026-01-15", at(2), "anna") }, pagestate.Change{Kind: pagestate.Watch, ID: "XRUN"}},
		{"a result", func() error { _, err := a.AddRecords(t.Context(), []record.Result{result}); return err }, pagestate.Change{Kind: pagestate.Record, ID: result.ID}},
		{"what is done to it", func() error {
			r, _, err := a.Record(t.Context(), result.ID)
			if err != nil {
				return err
			}
			_, err = a.Apply(t.Context(), r, expired(3))
			return err
		}, pagestate.Change{Kind: pagestate.Record, ID: result.ID}},
		{"a browser that leaves", func() error { return a.Leave(t.Context(), access.Hash{9}) }, ended},
		{"another secret", func() error {
			_, err := a.RotateToken(t.Context(), "anna", access.Hash{2}, at(2), time.Time{})
			return err
		}, ended},
		{"the end of a link", func() error { _, err := a.RevokeToken(t.Context(), "anna", at(3)); return err }, ended},
	} {
		if err := c.do(); err != nil {
			t.Fatalf("%s: %v", c.name, err)
		}
		began := time.Now()
		for name, l := range map[string]*follower{"here": here, "there": there} {
			soon(t, c.name+" is told "+name, func() bool { return l.has(c.want) })
		}
		t.Logf("%s was told everywhere after %v", c.name, time.Since(began).Round(time.Millisecond))
		here.take()
		there.take()
	}
}

// notTold: an edit that is not kept, and an alert that is there already.
func notTold(t *testing.T, open func(t *testing.T) (here, there Told)) {
	a, b := open(t)
	mustOpen(t, a, alert(1))
	here, there := follow(t, a), follow(t, b)
	if err := a.Edit(t.Context(), "a", "1", at(1), func(e pagestate.Entry, _ bool) (pagestate.Entry, bool) { return e, false }); err != nil {
		t.Fatal(err)
	}
	if _, err := a.Open(t.Context(), alert(1), nil); err != nil {
		t.Fatal(err)
	}
	stand(t, a, "last", "", "1", 1, "one")
	last := pagestate.Change{Kind: pagestate.Place, ID: "last"}
	for _, l := range []*follower{here, there} {
		soon(t, "what does happen is told", func() bool { return l.has(last) })
		for _, c := range l.take() {
			if c != last && c.Kind != pagestate.All {
				t.Errorf("told is %v", c)
			}
		}
	}
}
