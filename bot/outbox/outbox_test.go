package outbox_test

import (
	"bytes"
	"context"
	"errors"
	"firn/bot/testkit/sendertest"
	"fmt"
	"log/slog"
	"slices"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"firn/bot/outbox"
	"firn/bot/testkit/storetest"
)

// rig is an outbox over fakes. It must be made inside a synctest bubble: its
// clock is the bubble's.
type rig struct {
	*outbox.Outbox
	q      *queue
	slack  *service
	file   *service
	counts *sendertest.Counters
	log    *bytes.Buffer
}

func newRig(change ...func(*outbox.Settings)) *rig {
	r := &rig{q: &queue{now: time.Now}, slack: &service{}, file: &service{}, counts: &sendertest.Counters{}, log: &bytes.Buffer{}}
	set := outbox.Settings{Meter: r.counts}
	for _, c := range change {
		c(&set)
	}
	r.Outbox = outbox.New(slog.New(slog.NewTextHandler(r.log, nil)), time.Now, r.q,
		map[string]outbox.Sender{"slack": r.slack, "file": r.file}, set)
	return r
}

// deliver does one round and says how many items it took.
func (r *rig) deliver(t *testing.T) int {
	t.Helper()
	n, err := r.Deliver(t.Context())
	if err != nil {
		t.Fatalf("Deliver = %v", err)
	}
	return n
}

func (r *rig) counted(t *testing.T, o outbox.Outcome, want int) {
	t.Helper()
	if got := r.counts.Total(o); got != want {
		t.Errorf("%d %s, want %d; log:\n%s", got, o, want, r.log)
	}
}

func posted(t *testing.T, s *service, want ...string) {
	t.Helper()
	if got := s.keys(); !slices.Equal(got, want) {
		t.Errorf("posted %q, want %q", got, want)
	}
}

var errDown = errors.New("service unavailable")

func fails(err error) func(context.Context, outbox.Post) error {
	return func(context.Context, outbox.Post) error { return err }
}

func TestDeliver(t *testing.T) {
	for _, c := range []struct {
		name string
		run  func(t *testing.T, r *rig)
	}{
		{"a first attempt is not looked up", func(t *testing.T, r *rig) {
			r.q.put(item("a/1", "slack:C1", time.Now()), item("a/1", "file:log", time.Now()))
			if n := r.deliver(t); n != 2 {
				t.Errorf("took %d, want 2", n)
			}
			if n := r.deliver(t); n != 0 {
				t.Errorf("took %d in the second round, want 0", n)
			}
			posted(t, r.slack, "a/1")
			posted(t, r.file, "a/1")
			if r.slack.finds != 0 {
				t.Errorf("looked up %d times", r.slack.finds)
			}
			if got := r.q.at("a/1").ref; got != "ref a/1" {
				t.Errorf("marked with %q", got)
			}
			r.counted(t, outbox.Sent, 2)
		}},
		{"a first attempt that may have been sent is looked up", func(t *testing.T, r *rig) {
			r.q.put(item("a/1", "slack:C1", time.Now()), item("b/1", "slack:C1", time.Now()))
			for _, row := range r.q.rows {
				row.maybe = true
			}
			r.slack.posts = []outbox.Post{{Key: "a/1", Channel: "slack:C1"}}
			r.deliver(t)
			posted(t, r.slack, "a/1", "b/1")
			r.counted(t, outbox.Found, 1)
			r.counted(t, outbox.Sent, 1)
		}},
		{"not due yet", func(t *testing.T, r *rig) {
			r.q.put(item("a/1", "slack:C1", time.Now().Add(time.Second)))
			if n := r.deliver(t); n != 0 {
				t.Errorf("took %d, want 0", n)
			}
		}},
		{"stored, but the answer was lost", func(t *testing.T, r *rig) {
			r.slack.after = func(outbox.Post) error { return errDown }
			r.q.put(item("a/1", "slack:C1", time.Now()))
			r.deliver(t)
			time.Sleep(time.Minute)
			r.deliver(t)
			posted(t, r.slack, "a/1")
			r.counted(t, outbox.Found, 1)
			if !r.q.at("a/1").sent {
				t.Error("not marked")
			}
		}},
		{"sent, but the mark was lost", func(t *testing.T, r *rig) {
			r.q.marks = errors.New("disk I/O error")
			r.q.put(item("a/1", "slack:C1", time.Now()))
			if _, err := r.Deliver(t.Context()); !errors.Is(err, r.q.marks) {
				t.Errorf("Deliver = %v, want the queue's error", err)
			}
			r.q.marks = nil
			r.deliver(t)
			posted(t, r.slack, "a/1")
			time.Sleep(2 * time.Minute) // past the lease
			r.deliver(t)
			posted(t, r.slack, "a/1")
			r.counted(t, outbox.Failed, 1)
			r.counted(t, outbox.Found, 1)
		}},
		{"nothing is sent where the lookup fails", func(t *testing.T, r *rig) {
			r.slack.lookup = func() error { return errDown }
			r.q.put(item("a/1", "slack:C1", time.Now()))
			r.q.rows[0].attempt = 1
			r.deliver(t)
			posted(t, r.slack)
			if got := r.q.at("a/1").reason; !strings.Contains(got, "looking it up failed") {
				t.Errorf("reason %q", got)
			}
		}},
		{"an unknown surface", func(t *testing.T, r *rig) {
			r.q.put(item("a/1", "pager:7", time.Now()))
			r.deliver(t)
			want := `no surface "pager" for channel "pager:7": set up are file, slack`
			if got := r.q.at("a/1"); !got.givenUp || !strings.Contains(got.reason, want) {
				t.Errorf("given up %v for %q, want %q", got.givenUp, got.reason, want)
			}
			if !strings.Contains(r.log.String(), "level=ERROR") {
				t.Errorf("given up quietly: %s", r.log)
			}
			if b, err := r.Backlog(t.Context()); err != nil || b.GivenUp != 1 {
				t.Errorf("Backlog = %+v, %v", b, err)
			}
		}},
		{"a permanent error", func(t *testing.T, r *rig) {
			r.slack.before = fails(fmt.Errorf("post: %w", outbox.Permanent(errors.New("channel_not_found"))))
			r.q.put(item("a/1", "slack:C1", time.Now()))
			r.deliver(t)
			if got := r.q.at("a/1"); !got.givenUp || got.reason != "post: channel_not_found" {
				t.Errorf("given up %v for %q", got.givenUp, got.reason)
			}
			r.counted(t, outbox.GaveUp, 1)
			if !strings.Contains(r.log.String(), "level=ERROR") {
				t.Errorf("given up quietly: %s", r.log)
			}
		}},
		{"a panic is that surface's failure", func(t *testing.T, r *rig) {
			r.slack.before = func(context.Context, outbox.Post) error { panic("nil map") }
			r.q.put(item("a/1", "slack:C1", time.Now()), item("b/1", "file:log", time.Now()))
			r.deliver(t)
			posted(t, r.file, "b/1")
			if got := r.q.at("a/1").reason; got != "slack panicked: nil map" {
				t.Errorf("reason %q", got)
			}
		}},
		{"a claim whose lease was lost is not marked", func(t *testing.T, r *rig) {
			r.slack.before = func(context.Context, outbox.Post) error {
				r.q.mu.Lock()
				defer r.q.mu.Unlock()
				r.q.rows[0].attempt++ // another process has it
				return nil
			}
			r.q.put(item("a/1", "slack:C1", time.Now()))
			r.deliver(t)
			if r.q.at("a/1").sent {
				t.Error("marked")
			}
			r.counted(t, outbox.Lost, 1)
			r.counted(t, outbox.Sent, 0)
		}},
		{"the context ends in mid-send", func(t *testing.T, r *rig) {
			ctx, cancel := context.WithCancel(t.Context())
			r.slack.before = func(ctx context.Context, _ outbox.Post) error {
				cancel()
				<-ctx.Done()
				return ctx.Err()
			}
			r.q.put(item("a/1", "slack:C1", time.Now()))
			if _, err := r.Deliver(ctx); err != nil {
				t.Errorf("Deliver = %v", err)
			}
			r.slack.before = nil
			r.deliver(t) // at once: it was given back
			posted(t, r.slack, "a/1")
			if r.slack.finds != 1 {
				t.Errorf("looked up %d times, want once", r.slack.finds)
			}
		}},
		{"a queue that cannot claim", func(t *testing.T, r *rig) {
			r.q.fail = errors.New("database is locked")
			if _, err := r.Deliver(t.Context()); !errors.Is(err, r.q.fail) {
				t.Errorf("Deliver = %v, want the queue's error", err)
			}
		}},
		{"texts are made fit for a store", func(t *testing.T, r *rig) {
			r.slack.before = fails(errors.New("bad\x00\xff" + strings.Repeat("long", 1000)))
			r.q.put(item("a/1", "slack:C1", time.Now()))
			r.deliver(t)
			if got := r.q.at("a/1").reason; !strings.HasPrefix(got, "badlong") || len(got) > 500 {
				t.Errorf("reason of %d bytes: %.20q", len(got), got)
			}
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) { c.run(t, newRig()) })
		})
	}
}

// TestSent: whoever is told of what stands on a surface is told until it is
// kept, and only then is the post over; it stands there once.
func TestSent(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var told []string
		lost := true
		r := newRig(func(s *outbox.Settings) {
			s.Sent = func(_ context.Context, it outbox.Item, ref string) error {
				told = append(told, it.Key+" is "+ref)
				if lost {
					return errDown
				}
				return nil
			}
		})
		r.q.put(item("result/KALOMI-RUTA", "slack:C1", time.Now()))
		r.deliver(t)
		if row := r.q.at("result/KALOMI-RUTA"); row.sent || !strings.Contains(row.reason, "not kept") {
			t.Errorf("it is marked as sent: %v, reason %q", row.sent, row.reason)
		}
		lost = false
		time.Sleep(time.Minute)
		r.deliver(t)
		posted(t, r.slack, "result/KALOMI-RUTA")
		if row := r.q.at("result/KALOMI-RUTA"); !row.sent || row.ref != "ref result/KALOMI-RUTA" {
			t.Errorf("sent %v as %q", row.sent, row.ref)
		}
		if want := []string{"result/KALOMI-RUTA is ref result/KALOMI-RUTA", "result/KALOMI-RUTA is ref result/KALOMI-RUTA"}; !slices.Equal(told, want) {
			t.Errorf("told %q, want %q", told, want)
		}
		r.counted(t, outbox.Found, 1)
	})
}

func TestLate(t *testing.T) {
	for _, c := range []struct {
		name string
		late time.Duration
		want string
	}{
		{"in time", 0, ""},
		{"just under what is said", 5*time.Minute - time.Second, ""},
		{"from there on it is said", 5 * time.Minute, "late by 5 min"},
		{"the issue's example", 47 * time.Minute, "late by 47 min"},
		{"whole hours", 3 * time.Hour, "late by 3 h"},
		{"hours and minutes", 3*time.Hour + 5*time.Minute, "late by 3 h 5 min"},
		{"days", 60 * time.Hour, "late by 2 days"},
	} {
		t.Run(c.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				r := newRig()
				r.q.put(item("a/1", "slack:C1", time.Now().Add(-c.late)))
				r.deliver(t)
				if got := r.slack.last().Lateness(); got != c.want {
					t.Errorf("Lateness() = %q, want %q", got, c.want)
				}
			})
		})
	}
}

// Lateness is told from when an item was first due, not from its next try.
func TestLateAfterAnOutage(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := newRig()
		r.slack.before = fails(errDown)
		r.q.put(item("a/1", "slack:C1", time.Now()))
		start := time.Now()
		for time.Since(start) < time.Hour {
			r.deliver(t)
			time.Sleep(time.Second)
		}
		r.slack.before = nil
		for len(r.slack.keys()) == 0 {
			r.deliver(t)
			time.Sleep(time.Second)
		}
		p := r.slack.last()
		if p.Late < time.Hour || p.Late > time.Hour+5*time.Minute {
			t.Errorf("late by %v after an outage of an hour; want within five minutes more", p.Late)
		}
		posted(t, r.slack, "a/1")
	})
}

func TestBackoff(t *testing.T) {
	for _, c := range []struct {
		name   string
		jitter float64
		err    error
		want   []time.Duration
	}{
		{"doubles up to the cap", 0, errDown, []time.Duration{1e9, 2e9, 4e9, 8e9, 16e9, 30e9, 30e9}},
		{"jitter shortens by up to half", 0.5, errDown, []time.Duration{0.75e9, 1.5e9, 3e9, 6e9, 12e9, 22.5e9}},
		{"the service says when", 0, outbox.Busy(errDown, 17*time.Second), []time.Duration{17e9, 17e9}},
		{"and never earlier", 0.5, fmt.Errorf("post: %w", outbox.Busy(errDown, 20*time.Second)), []time.Duration{21e9}},
		{"within reason", 0, outbox.Busy(errDown, 1000*time.Hour), []time.Duration{time.Hour}},
		{"it says nothing of use", 0, outbox.Busy(errDown, 0), []time.Duration{1e9, 2e9}},
	} {
		t.Run(c.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				for i, want := range c.want {
					r := newRig(func(s *outbox.Settings) {
						s.MaxBackoff = 30 * time.Second
						s.Jitter = func() float64 { return c.jitter }
					})
					r.slack.before = fails(c.err)
					r.q.put(item("a/1", "slack:C1", time.Now()))
					r.q.rows[0].attempt = i
					r.deliver(t)
					if got := time.Until(r.q.at("a/1").next); got != want {
						t.Errorf("after attempt %d the pause is %v, want %v", i+1, got, want)
					}
				}
			})
		})
	}
}

func TestGivingUp(t *testing.T) {
	for _, c := range []struct {
		name    string
		attempt int
		age     time.Duration
		want    bool
	}{
		{"first attempt after a weekend off", 1, 60 * time.Hour, false},
		{"many attempts within the hour", 500, time.Hour, false},
		{"one attempt short", 99, 25 * time.Hour, false},
		{"many attempts, long ago", 100, 24 * time.Hour, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				r := newRig()
				r.slack.before = fails(errDown)
				r.q.put(item("a/1", "slack:C1", time.Now().Add(-c.age)))
				r.q.rows[0].attempt = c.attempt - 1
				r.deliver(t)
				if got := r.q.at("a/1").givenUp; got != c.want {
					t.Errorf("given up %v, want %v", got, c.want)
				}
				if loud := strings.Contains(r.log.String(), "level=ERROR"); loud != c.want {
					t.Errorf("an error in the log: %v, want %v", loud, c.want)
				}
			})
		})
	}
}

// Three at once, each as long as it likes: the bound holds, and the others of
// the batch get their turn.
func TestConcurrency(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := newRig(func(s *outbox.Settings) { s.Concurrency = 3 })
		var mu sync.Mutex
		now, most := 0, 0
		r.slack.before = func(context.Context, outbox.Post) error {
			mu.Lock()
			now++
			most = max(most, now)
			mu.Unlock()
			time.Sleep(time.Second)
			mu.Lock()
			now--
			mu.Unlock()
			return nil
		}
		for i := range 12 {
			r.q.put(item(fmt.Sprintf("a%d/1", i), "slack:C1", time.Now()))
		}
		start := time.Now()
		r.deliver(t)
		if took := time.Since(start); most != 3 || took != 4*time.Second {
			t.Errorf("%d at once in %v, want 3 in 4s", most, took)
		}
	})
}

// A send is cut off well inside the lease, and one that had to wait too long
// for its turn is not begun.
func TestWithinTheLease(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := newRig(func(s *outbox.Settings) { s.Concurrency, s.Lease = 1, time.Minute })
		r.slack.before = func(ctx context.Context, _ outbox.Post) error {
			<-ctx.Done()
			return ctx.Err()
		}
		r.q.put(item("a/1", "slack:C1", time.Now()), item("b/1", "slack:C1", time.Now()))
		start := time.Now()
		r.deliver(t)
		if took := time.Since(start); took > 40*time.Second {
			t.Errorf("the round took %v of a lease of a minute", took)
		}
		r.counted(t, outbox.Lost, 0)
		b, err := r.Backlog(t.Context())
		if err != nil || b.Waiting != 2 {
			t.Errorf("Backlog = %+v, %v; want 2 waiting", b, err)
		}
	})
}

// A process that sleeps through its lease, between the lookup and the send,
// does not send.
func TestSleptThroughTheLease(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var ahead time.Duration
		s := &service{}
		s.lookup = func() error { ahead = time.Hour; return nil }
		q := &queue{now: time.Now}
		q.put(item("a/1", "slack:C1", time.Now()))
		q.rows[0].attempt = 1
		clock := func() time.Time { return time.Now().Add(ahead) }
		o := outbox.New(slog.New(slog.DiscardHandler), clock, q, map[string]outbox.Sender{"slack": s}, outbox.Settings{})
		if _, err := o.Deliver(t.Context()); err != nil {
			t.Fatal(err)
		}
		posted(t, s)
		if _, err := o.Deliver(t.Context()); err != nil {
			t.Fatal(err)
		}
		posted(t, s, "a/1")
	})
}

func TestOrderWithinALine(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := newRig()
		now := time.Now()
		for _, k := range []string{"a/10", "a/2", "a/1", "b/2"} {
			r.q.put(item(k, "slack:C1", now))
		}
		r.q.put(item("a/2", "slack:C2", now))
		first := true
		r.slack.before = func(_ context.Context, p outbox.Post) error {
			if p.Key == "a/1" && first {
				first = false
				return errDown
			}
			return nil
		}
		for range 8 {
			r.deliver(t)
			time.Sleep(time.Second)
		}
		var c1 []string
		for _, p := range r.slack.posts {
			if p.Channel == "slack:C1" && strings.HasPrefix(p.Key, "a/") {
				c1 = append(c1, p.Key)
			}
		}
		if want := []string{"a/1", "a/2", "a/10"}; !slices.Equal(c1, want) {
			t.Errorf("posted %q, want %q", c1, want)
		}
		if got := len(r.slack.keys()); got != 5 {
			t.Errorf("posted %d, want 5: other lines and channels do not wait", got)
		}
	})
}

// unordered is a queue that hands out a whole line at once.
type unordered struct{ *queue }

func (u unordered) Claim(ctx context.Context, now time.Time, lease time.Duration, limit int) ([]outbox.Claim, error) {
	u.mu.Lock()
	defer u.mu.Unlock()
	var claims []outbox.Claim
	for _, r := range u.rows {
		if u.waits(r) && !r.next.After(now) && !r.until.After(u.now()) {
			r.attempt++
			r.until = u.now().Add(lease)
			claims = append(claims, outbox.Claim{Item: r.Item, Attempt: r.attempt})
		}
	}
	return claims, nil
}

func TestOrderWithinABatch(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		q, s := &queue{now: time.Now}, &service{}
		for _, k := range []string{"a/3", "a/1", "a/2"} {
			q.put(item(k, "slack:C1", time.Now()))
		}
		down := true
		s.before = func(_ context.Context, p outbox.Post) error {
			if down && p.Key == "a/2" {
				down = false
				return errDown
			}
			return nil
		}
		o := outbox.New(slog.New(slog.DiscardHandler), time.Now, unordered{q}, map[string]outbox.Sender{"slack": s}, outbox.Settings{})
		for range 3 {
			if _, err := o.Deliver(t.Context()); err != nil {
				t.Fatal(err)
			}
			time.Sleep(time.Second)
		}
		posted(t, s, "a/1", "a/2", "a/3")
	})
}

// run starts Run and gives back what ends it and waits.
func (r *rig) run(t *testing.T) (stop func()) {
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan error, 1)
	go func() { done <- r.Run(ctx) }()
	return func() {
		cancel()
		if err := <-done; !errors.Is(err, context.Canceled) {
			t.Errorf("Run = %v, want %v", err, context.Canceled)
		}
	}
}

// taken is a queue with posts that another process has claimed.
type taken struct{ *queue }

func (taken) Taken(context.Context) (int, time.Duration, error) { return 2, time.Minute, nil }

func TestRun(t *testing.T) {
	t.Run("it says that posts are another's, and until when", func(t *testing.T) {
		synctest.Test(t, func(t *testing.T) {
			r := newRig()
			r.Outbox = outbox.New(slog.New(slog.NewTextHandler(r.log, nil)), time.Now, taken{r.q}, nil, outbox.Settings{})
			until := time.Now().Add(time.Minute).UTC().Format(time.RFC3339)
			r.run(t)()
			if got := r.log.String(); strings.Count(got, "\n") != 1 || !strings.Contains(got, "posts=2 until="+until[:len(until)-1]) {
				t.Errorf("logged %q", got)
			}
		})
	})
	t.Run("a kick wakes it, and so does the poll", func(t *testing.T) {
		synctest.Test(t, func(t *testing.T) {
			r := newRig(func(s *outbox.Settings) { s.Poll = time.Hour })
			stop := r.run(t)
			synctest.Wait()
			r.q.put(item("a/1", "slack:C1", time.Now()))
			synctest.Wait()
			posted(t, r.slack)
			r.Kick()
			r.Kick()
			synctest.Wait()
			posted(t, r.slack, "a/1")
			r.q.put(item("a/2", "slack:C1", time.Now()))
			time.Sleep(time.Hour)
			synctest.Wait()
			posted(t, r.slack, "a/1", "a/2")
			stop()
		})
	})
	t.Run("a surface that hangs holds up no other", func(t *testing.T) {
		synctest.Test(t, func(t *testing.T) {
			r := newRig()
			r.slack.before = func(ctx context.Context, _ outbox.Post) error {
				<-ctx.Done()
				return ctx.Err()
			}
			for i := range 100 {
				r.q.put(item(fmt.Sprintf("a%d/1", i), "slack:C1", time.Now().Add(-time.Hour)))
			}
			stop := r.run(t)
			for i := range 60 {
				due := time.Now()
				key := fmt.Sprintf("b%d/1", i)
				r.q.put(item(key, "file:log", due))
				r.Kick()
				synctest.Wait()
				if got := r.file.keys(); len(got) != i+1 {
					t.Fatalf("after %d s posted %d of %d", i*7, len(got), i+1)
				}
				time.Sleep(7 * time.Second)
			}
			if n := len(r.slack.keys()); n != 0 {
				t.Errorf("the surface that hangs has %d posts", n)
			}
			r.slack.recover()
			time.Sleep(6 * time.Minute)
			synctest.Wait()
			if n := len(r.slack.keys()); n != 100 {
				t.Errorf("six minutes after its return %d of 100 are posted", n)
			}
			stop()
		})
	})
	t.Run("a surface that is down is asked seldom", func(t *testing.T) {
		synctest.Test(t, func(t *testing.T) {
			r := newRig()
			var mu sync.Mutex
			calls := 0
			r.slack.before = func(context.Context, outbox.Post) error {
				mu.Lock()
				defer mu.Unlock()
				calls++
				return errDown
			}
			for i := range 50 {
				r.q.put(item(fmt.Sprintf("a%d/1", i), "slack:C1", time.Now()))
			}
			stop := r.run(t)
			time.Sleep(time.Hour)
			synctest.Wait()
			if calls < 60 || calls > 200 {
				t.Errorf("%d calls in an hour of outage with 50 posts waiting", calls)
			}
			r.slack.recover()
			time.Sleep(6 * time.Minute)
			synctest.Wait()
			if n := len(r.slack.keys()); n != 50 {
				t.Errorf("posted %d of 50", n)
			}
			stop()
		})
	})
	t.Run("Retry-After keeps a channel free, not its neighbours", func(t *testing.T) {
		synctest.Test(t, func(t *testing.T) {
			r := newRig()
			start := time.Now()
			r.slack.before = func(_ context.Context, p outbox.Post) error {
				if p.Channel == "slack:C1" && time.Since(start) < 30*time.Second {
					if time.Since(start) > 0 {
						t.Errorf("asked again after %v", time.Since(start))
					}
					return outbox.Busy(errDown, 30*time.Second)
				}
				return nil
			}
			r.q.put(item("a/1", "slack:C1", start))
			stop := r.run(t)
			synctest.Wait()
			time.Sleep(time.Second)
			r.q.put(item("b/1", "slack:C1", time.Now()), item("c/1", "slack:C2", time.Now()))
			time.Sleep(2 * time.Second)
			synctest.Wait()
			posted(t, r.slack, "c/1")
			time.Sleep(time.Minute)
			synctest.Wait()
			if n := len(r.slack.keys()); n != 3 {
				t.Errorf("posted %d of 3", n)
			}
			stop()
		})
	})
	t.Run("a queue that fails is asked again, ever less often", func(t *testing.T) {
		synctest.Test(t, func(t *testing.T) {
			r := newRig()
			r.q.fail = errors.New("database is locked")
			stop := r.run(t)
			time.Sleep(time.Hour)
			synctest.Wait()
			if n := strings.Count(r.log.String(), "outbox cannot claim"); n < 10 || n > 30 {
				t.Errorf("%d errors in an hour", n)
			}
			r.q.mu.Lock()
			r.q.fail = nil
			r.q.mu.Unlock()
			r.q.put(item("a/1", "slack:C1", time.Now()))
			time.Sleep(5 * time.Minute)
			synctest.Wait()
			posted(t, r.slack, "a/1")
			stop()
		})
	})
	t.Run("it waits for what is under way", func(t *testing.T) {
		synctest.Test(t, func(t *testing.T) {
			r := newRig()
			r.slack.before = func(ctx context.Context, _ outbox.Post) error {
				<-ctx.Done()
				time.Sleep(time.Second) // slow to stop, and then it was stored
				return nil
			}
			r.q.put(item("a/1", "slack:C1", time.Now()))
			stop := r.run(t)
			synctest.Wait()
			stop()
			if !r.q.at("a/1").sent {
				t.Error("what was sent while stopping is not marked")
			}
		})
	})
	t.Run("a thousand at once", func(t *testing.T) {
		synctest.Test(t, func(t *testing.T) {
			r := newRig()
			r.slack.before = func(context.Context, outbox.Post) error {
				time.Sleep(100 * time.Millisecond)
				return nil
			}
			for i := range 1000 {
				r.q.put(item(fmt.Sprintf("a%d/1", i), "slack:C1", time.Now()))
			}
			stop := r.run(t)
			time.Sleep(26 * time.Second) // 4 at once, 10 a second each
			synctest.Wait()
			if n := len(r.slack.keys()); n != 1000 {
				t.Errorf("posted %d of 1000", n)
			}
			if r.slack.finds != 0 {
				t.Errorf("looked up %d times", r.slack.finds)
			}
			stop()
		})
	})
}

func TestItemLine(t *testing.T) {
	for _, c := range []struct {
		key, line string
		seq       int
	}{
		{"alert/XKLD/2026-01-15/1", "alert/XKLD/2026-01-15", 1},
		{"alert/XKLD/2026-01-15/10", "alert/XKLD/2026-01-15", 10},
		{"alert/XKLD/x", "alert/XKLD/x", 0},
		{"alert/XKLD/-1", "alert/XKLD/-1", 0},
		{"alert", "alert", 0},
		{"", "", 0},
	} {
		if line, seq := (outbox.Item{Key: c.key}).OrderingKey(); line != c.line || seq != c.seq {
			t.Errorf("Line of %q = %q, %d; want %q, %d", c.key, line, seq, c.line, c.seq)
		}
	}
}

func TestErrors(t *testing.T) {
	if outbox.Permanent(nil) != nil || outbox.Busy(nil, time.Second) != nil {
		t.Error("no error became one")
	}
	err := fmt.Errorf("post: %w", outbox.Permanent(errDown))
	if !outbox.IsPermanent(err) || !errors.Is(err, errDown) || outbox.IsPermanent(errDown) {
		t.Errorf("IsPermanent(%v) is wrong", err)
	}
}

// The store in memory that other packages' tests use does for an outbox too.
func TestMemoryStore(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		m := storetest.NewMemory(time.Now)
		seed(t, m)
		s := &service{}
		s.after = func(p outbox.Post) error {
			if p.Key == "alert/XKLD/2026-01-15/1" {
				return errDown
			}
			return nil
		}
		o := outbox.New(slog.New(slog.DiscardHandler), time.Now, m, map[string]outbox.Sender{"slack": s}, outbox.Settings{})
		for range 5 {
			if _, err := o.Deliver(t.Context()); err != nil {
				t.Fatal(err)
			}
			time.Sleep(time.Minute)
		}
		posted(t, s, "alert/XKLD/2026-01-15/1")
		if b, err := o.Backlog(t.Context()); err != nil || b.Waiting+b.GivenUp != 0 {
			t.Errorf("Backlog = %+v, %v; want nothing", b, err)
		}
	})
}
