package discord

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"firn/adapters/testkit/discorddouble"
	"firn/bot/chat"
	"firn/bot/outbox"
	"firn/bot/reply"
)

// leap is a clock that stands still while calls are made, and leaps to whoever
// is to wake first when all wait.
type leap struct {
	mu     sync.Mutex
	at     time.Time
	moves  int // calls begun and ended, sleeps begun and ended
	calls  int // under way
	asleep map[chan struct{}]time.Time
}

func newLeap() *leap {
	return &leap{at: time.Date(2026, 1, 15, 6, 0, 0, 0, time.UTC), asleep: map[chan struct{}]time.Time{}}
}

func (l *leap) now() time.Time {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.at
}

func (l *leap) sleep(ctx context.Context, d time.Duration) error {
	wake := make(chan struct{})
	l.mu.Lock()
	l.asleep[wake] = l.at.Add(d)
	l.moves++
	l.mu.Unlock()
	select {
	case <-wake:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}

// sleepers is how many wait.
func (l *leap) sleepers() int {
	l.mu.Lock()
	defer l.mu.Unlock()
	return len(l.asleep)
}

func (l *leap) call(n int) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.calls += n
	l.moves++
}

// watched counts the calls that are under way.
type watched struct {
	l    *leap
	next http.RoundTripper
}

func (w watched) RoundTrip(q *http.Request) (*http.Response, error) {
	w.l.call(1)
	defer w.l.call(-1)
	return w.next.RoundTrip(q)
}

// together does several things at once, and lets the time go on until all are
// done. Who waits for another's turn is neither asleep nor calls: the clock
// leaps when nothing has moved for some looks.
func (l *leap) together(all ...func()) {
	var wg sync.WaitGroup
	for _, do := range all {
		wg.Go(do)
	}
	done := make(chan struct{})
	go func() { wg.Wait(); close(done) }()
	for still, moves := 0, -1; ; {
		select {
		case <-done:
			return
		case <-time.After(time.Millisecond):
		}
		l.mu.Lock()
		if still++; l.moves != moves || l.calls > 0 {
			still, moves = 0, l.moves
		}
		if still >= 4 {
			l.wake()
		}
		l.mu.Unlock()
	}
}

// wake goes on to whoever is to wake first; mu is held.
func (l *leap) wake() {
	var first time.Time
	for _, t := range l.asleep {
		if first.IsZero() || t.Before(first) {
			first = t
		}
	}
	if first.After(l.at) {
		l.at = first
	}
	for wake, t := range l.asleep {
		if !t.After(l.at) {
			close(wake)
			delete(l.asleep, wake)
			l.moves++
		}
	}
}

// hasty is a clock for which every wait is over at once.
func hasty() clock {
	var ahead atomic.Int64
	return clock{
		now: func() time.Time { return time.Now().Add(time.Duration(ahead.Load())) },
		sleep: func(ctx context.Context, d time.Duration) error {
			ahead.Add(int64(d))
			return ctx.Err()
		},
	}
}

// paced is a surface at a double that counts as Discord does, by the same clock.
func paced(t *testing.T, channels int) (*discorddouble.Server, *Surface, *leap) {
	l := newLeap()
	o := discorddouble.Options{PerChannel: 5, PerSecond: 50, Now: l.now}
	for i := range channels {
		o.Channels = append(o.Channels, fmt.Sprint(100200300400501000+i))
	}
	d := startDouble(t, o)
	set := options(d)
	set.clock = clock{l.now, l.sleep}
	s := newSurface(t, set)
	s.api.session.Client.Transport = watched{l, s.api.session.Client.Transport}
	return d, s, l
}

func said(fact string) chat.Message {
	return chat.Message{Reply: reply.Reply{Kind: reply.KindStatus, Facts: []string{fact}}}
}

// A morning's amendments change sixty cards at once: Discord is never asked too
// often, and who asks meanwhile does not wait.
func TestBurstOfEdits(t *testing.T) {
	for _, c := range []struct {
		name     string
		channels int
		most     time.Duration
	}{
		{"in one channel", 1, 90 * time.Second},
		{"in sixty threads", 60, 5 * time.Second},
	} {
		t.Run(c.name, func(t *testing.T) {
			d, s, l := paced(t, c.channels)
			const n = 60
			refs := make([]chat.Ref, n)
			for i := range n {
				l.mu.Lock()
				l.at = l.at.Add(10 * time.Second)
				l.mu.Unlock()
				where, id, err := s.post(t.Context(), d.Channels()[i%c.channels], render(said("As it was."), ""))
				if err != nil {
					t.Fatal(err)
				}
				refs[i] = refOf(where, id)
			}
			where, id, err := s.post(t.Context(), d.Channels()[0], render(said("As it was."), ""))
			if err != nil {
				t.Fatal(err)
			}
			edits := refOf(where, id)
			began, answered, edited := l.now(), time.Time{}, time.Time{}
			var all []func()
			for i := range n {
				all = append(all, func() {
					if err := s.Change(t.Context(), refs[i], said("As it is.")); err != nil {
						t.Error(err)
					}
				})
			}
			all = append(all, func() {
				if _, _, err := s.post(t.Context(), d.Channels()[0], render(said("An answer."), "")); err != nil {
					t.Error(err)
				}
				answered = l.now()
			}, func() {
				c := said("As somebody edited it.")
				c.Awaited = true
				if err := s.Change(t.Context(), edits, c); err != nil {
					t.Error(err)
				}
				edited = l.now()
			})
			l.together(all...)
			took := l.now().Sub(began)
			if got := d.Counts().TooMany; got != 0 {
				t.Errorf("Discord was asked too often %d times", got)
			}
			if took > c.most {
				t.Errorf("sixty edits took %s, at most %s", took, c.most)
			}
			if late := answered.Sub(began); late > time.Second {
				t.Errorf("an answer beside them took %s", late)
			}
			if late := edited.Sub(began); late > 5*time.Second {
				t.Errorf("an edit that somebody waits for took %s", late)
			}
			changed := 0
			for _, at := range d.Channels() {
				for _, m := range d.FromBot(at) {
					if !m.Edited.IsZero() {
						changed++
					}
				}
			}
			if changed != n+1 {
				t.Errorf("%d of %d are changed", changed, n+1)
			}
			t.Logf("sixty edits %s took %s", c.name, took)
		})
	}
}

// The outbox's posts to a channel are spread as well.
func TestBurstOfPosts(t *testing.T) {
	d, s, l := paced(t, 1)
	var all []func()
	for i := range 12 {
		all = append(all, func() {
			post := alertPost("discord:" + d.Channels()[0])
			post.Key = fmt.Sprint("alert/XKLD/2026-01-15/", i)
			if _, err := s.Send(t.Context(), post); err != nil {
				t.Error(err)
			}
		})
	}
	l.together(all...)
	if got := d.Counts().TooMany; got != 0 || len(d.FromBot(d.Channels()[0])) != 12 {
		t.Errorf("%d posts stand there, %d were too many", len(d.FromBot(d.Channels()[0])), got)
	}
}

// What Discord says to wait is waited: no less, and no second more.
func TestRetryAfterIsKept(t *testing.T) {
	const slack = 100 * time.Millisecond
	for _, c := range []struct {
		name   string
		fault  discorddouble.Fault
		wait   time.Duration
		others bool // wait as well
	}{
		{"whole seconds", discorddouble.Fault{RetryAfter: 3 * time.Second}, 3 * time.Second, false},
		{"a fraction", discorddouble.Fault{RetryAfter: 64571 * time.Microsecond}, 64571 * time.Microsecond, false},
		{"seconds and a fraction", discorddouble.Fault{RetryAfter: 7336 * time.Millisecond}, 7336 * time.Millisecond, false},
		{"for all calls", discorddouble.Fault{RetryAfter: 2500 * time.Millisecond, Global: true}, 2500 * time.Millisecond, true},
		{"from what stands before Discord", discorddouble.Fault{RetryAfter: 40 * time.Second, Plain: true}, 40 * time.Second, true},
		{"none", discorddouble.Fault{}, 0, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			d, s, l := paced(t, 2)
			began := l.now()
			post := func(at string) (after time.Duration) {
				if _, _, err := s.post(t.Context(), at, render(said("A card."), "")); err != nil {
					t.Error(err)
				}
				return l.now().Sub(began)
			}
			c.fault.Method, c.fault.Status, c.fault.Path = http.MethodPost, http.StatusTooManyRequests, d.Channels()[0]
			d.Fail(c.fault)
			var first, other time.Duration
			var both sync.WaitGroup
			both.Go(func() { first = post(d.Channels()[0]) })
			eventually(t, "the refusal is known", func() bool { return l.sleepers() == 1 })
			if c.others {
				both.Go(func() { other = post(d.Channels()[1]) })
				eventually(t, "the other waits", func() bool { return l.sleepers() == 2 })
			} else {
				other = post(d.Channels()[1])
			}
			l.together(both.Wait)
			if first < c.wait || first > c.wait+slack {
				t.Errorf("the call was made again after %s, want %s", first, c.wait)
			}
			if c.others && (other < c.wait || other > c.wait+slack) || !c.others && other > slack {
				t.Errorf("a call to another channel was made after %s, the others wait: %v", other, c.others)
			}
		})
	}
}

// A wait that the context leaves no time for is told, not begun.
func TestNoTimeForThePace(t *testing.T) {
	d := startDouble(t, discorddouble.Options{})
	s := newSurface(t, options(d))
	ctx, cancel := context.WithTimeout(t.Context(), time.Second)
	defer cancel()
	for i := range postsAtOnce + 1 {
		post := alertPost("discord:" + d.Channels()[0])
		post.Key = fmt.Sprint("k/", i)
		_, err := s.Send(ctx, post)
		var busy outbox.RetryAfterError
		if i < postsAtOnce != (err == nil) || err != nil && (!errors.As(err, &busy) || busy.RetryAfter() <= 0 || busy.RetryAfter() > postEvery) {
			t.Errorf("post %d: %v", i, err)
		}
	}
}

// A morning of thirty bases is one post in the channel and a word on each in its
// thread, changed as people see them: Discord is never asked too often.
func TestMorningOfThirty(t *testing.T) {
	d, s, l := paced(t, 1)
	at := d.Channels()[0]
	sc := reply.DigestScene{Day: "2026-01-15"}
	for i := range 30 {
		c := reply.Cold{Ident: fmt.Sprintf("X%c%cA", 'A'+i/26, 'A'+i%26), State: "below", LowC: reply.Some(float64(-31 - i)), LowAt: l.now(), RestrictionC: reply.Some(-25)}
		sc.Bases = append(sc.Bases, reply.DigestLine{Cold: c, Asks: true, Zone: time.UTC})
	}
	var all []func()
	l.together(func() {
		root, err := s.Send(t.Context(), outbox.Post{Key: "digest/2026-01-15/1", Channel: "discord:" + at, Body: reply.MorningDigest(sc)})
		if err != nil {
			t.Error(err)
		}
		all = append(all, func() {
			for i := range 30 {
				post := outbox.Post{Key: fmt.Sprint("digest/2026-01-15/", i+2), Channel: "discord:" + at, Body: said("A word on one.").Reply}
				if _, err := s.SendUnder(t.Context(), post, root); err != nil {
					t.Error(err)
				}
			}
		}, func() {
			for i := range sc.Bases {
				sc.Bases[i].Cold.SeenBy, sc.Bases[i].Cold.SeenAt = "Ada", l.now()
				if err := s.Change(t.Context(), chat.Ref(root), chat.Message{Reply: reply.MorningDigest(sc)}); err != nil {
					t.Error(err)
				}
			}
		})
	})
	l.together(all...)
	posts := d.FromBot(at)
	if len(posts) != 1 {
		t.Fatalf("a morning is %d posts in its channel", len(posts))
	}
	if got := d.Counts().TooMany; got != 0 || len(d.FromBot(posts[0].ID)) != 30 {
		t.Errorf("%d words stand in the thread, Discord was asked too often %d times", len(d.FromBot(posts[0].ID)), got)
	}
	if c := posts[0].Content; !strings.HasPrefix(c, "30 below: XBDA −60, XBCA −59, ") || strings.Count(c, "Seen by Ada")+strings.Count(fmt.Sprint(posts[0].Embeds), "Seen by Ada") != 30 {
		t.Errorf("it reads %s %v", c, posts[0].Embeds)
	}
}
