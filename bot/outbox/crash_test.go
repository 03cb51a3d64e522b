package outbox_test

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"sync"
	"testing"
	"time"

	"pgregory.net/rapid"

	"firn/bot/outbox"
	"firn/bot/testkit/storetest"
	"firn/bot/watch"
)

// seed puts one alert with one post into a store.
func seed(t *testing.T, m *storetest.Memory) {
	t.Helper()
	a := watch.Alert{Base: "XKLD", Day: "2026-01-15", Seq: 1, Kind: watch.Opened, Made: time.Now()}
	fresh, err := m.Open(t.Context(), a, []outbox.Item{item("alert/XKLD/2026-01-15/1", "slack:C1", time.Now())})
	if err != nil || !fresh {
		t.Fatalf("Open = %v, %v", fresh, err)
	}
}

// process is one process between the outbox and the world. It dies after a
// number of steps: from then on nothing that the outbox does has any effect,
// which is all that is left of a killed process. A step is drawn to fail for
// other reasons too.
type process struct {
	q    *queue
	s    *service
	rand *dice

	mu    sync.Mutex
	steps int // that are left
}

var errKilled, errFault = errors.New("killed"), errors.New("fault")

// fault is what goes wrong with a step.
type fault int

const (
	none   fault = iota
	before       // it did not happen
	after        // it happened, but the answer was lost
)

func (p *process) step() (fault, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.steps--
	switch {
	case p.steps < 0:
		return before, errKilled
	case p.steps == 0:
		return after, errKilled
	}
	return p.rand.fault(), errFault
}

// around runs a step.
func around[T any](p *process, do func() (T, error)) (T, error) {
	var zero T
	f, err := p.step()
	if f == before {
		return zero, err
	}
	v, done := do()
	if f == after {
		return zero, err
	}
	return v, done
}

func (p *process) Claim(ctx context.Context, now time.Time, lease time.Duration, limit int) ([]outbox.Claim, error) {
	return around(p, func() ([]outbox.Claim, error) { return p.q.Claim(ctx, now, lease, limit) })
}

func (p *process) Done(ctx context.Context, c outbox.Claim, ref string, at time.Time) (bool, error) {
	return around(p, func() (bool, error) { return p.q.Done(ctx, c, ref, at) })
}

func (p *process) Later(ctx context.Context, c outbox.Claim, due time.Time, reason string) (bool, error) {
	return around(p, func() (bool, error) { return p.q.Later(ctx, c, due, reason) })
}

func (p *process) GiveUp(ctx context.Context, c outbox.Claim, reason string, at time.Time) (bool, error) {
	return around(p, func() (bool, error) { return p.q.GiveUp(ctx, c, reason, at) })
}

func (p *process) Backlog(ctx context.Context) (outbox.Backlog, error) { return p.q.Backlog(ctx) }

func (p *process) Send(ctx context.Context, post outbox.Post) (string, error) {
	return around(p, func() (string, error) { return p.s.Send(ctx, post) })
}

func (p *process) Find(ctx context.Context, channel, key string) (ref string, found bool, err error) {
	ref, err = around(p, func() (string, error) {
		ref, found, err = p.s.Find(ctx, channel, key)
		return ref, err
	})
	return ref, found && err == nil, err
}

// dice is drawn beforehand: a rapid.T may not be asked from several
// goroutines.
type dice struct {
	mu     sync.Mutex
	faults []fault
	next   int
}

func (d *dice) fault() fault {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.next == len(d.faults) {
		return none
	}
	d.next++
	return d.faults[d.next-1]
}

// Whatever processes die at whatever step, whatever fails besides, and
// however far the replicas' clocks are apart: every item is posted once, in
// the order of its line.
func TestCrashesNeverLoseOrDouble(t *testing.T) {
	kills, finds, posts := 0, 0, 0
	rapid.Check(t, func(rt *rapid.T) {
		clock := time.Date(2026, 1, 15, 6, 0, 0, 0, time.UTC)
		q, s := &queue{now: func() time.Time { return clock }}, &service{}
		const lease = time.Minute
		set := outbox.Settings{Lease: lease, Batch: rapid.IntRange(1, 8).Draw(rt, "batch"), Concurrency: 2}
		round := func(p *process, skew time.Duration) error {
			o := outbox.New(slog.New(slog.DiscardHandler), func() time.Time { return clock.Add(skew) }, p,
				map[string]outbox.Sender{"slack": p}, set)
			_, err := o.Deliver(t.Context())
			return err
		}
		seqs := map[string]int{}
		items := 0
		put := func() {
			base := rapid.SampledFrom([]string{"XKLD", "XKLE"}).Draw(rt, "base")
			seqs[base]++
			for _, channel := range []string{"slack:C1", "slack:C2"} {
				q.put(item(fmt.Sprintf("alert/%s/2026-01-15/%d", base, seqs[base]), channel, clock))
				items++
			}
		}
		put()
		rt.Repeat(map[string]func(*rapid.T){
			"a new alert": func(*rapid.T) { put() },
			"a process": func(rt *rapid.T) {
				p := &process{q: q, s: s, steps: rapid.IntRange(0, 24).Draw(rt, "steps"), rand: &dice{
					faults: rapid.SliceOfN(rapid.SampledFrom([]fault{none, none, none, before, after}), 0, 24).Draw(rt, "faults"),
				}}
				skew := time.Duration(rapid.IntRange(-5, 5).Draw(rt, "skew")) * time.Second
				// Its errors are the faults; what matters is the end.
				_ = round(p, skew)
				if p.steps <= 0 {
					kills++
				}
			},
			"time passes": func(rt *rapid.T) {
				clock = clock.Add(time.Duration(rapid.IntRange(1, 90).Draw(rt, "seconds")) * time.Second)
			},
		})
		for range 200 {
			b, err := q.Backlog(t.Context())
			if err != nil {
				rt.Fatal(err)
			}
			if b.GivenUp > 0 {
				rt.Fatalf("%d given up", b.GivenUp)
			}
			if b.Waiting == 0 {
				break
			}
			if err := round(&process{q: q, s: s, steps: 1e6, rand: &dice{}}, 0); err != nil {
				rt.Fatal(err)
			}
			clock = clock.Add(lease)
		}
		if len(s.posts) != items {
			rt.Errorf("%d posts for %d items", len(s.posts), items)
		}
		last := map[string]int{}
		for _, p := range s.posts {
			line, seq := (outbox.Item{Key: p.Key}).OrderingKey()
			if want := last[p.Channel+line] + 1; seq != want {
				rt.Errorf("%s on %s where number %d was due", p.Key, p.Channel, want)
			}
			last[p.Channel+line] = seq
		}
		finds += s.finds
		posts += len(s.posts)
	})
	t.Logf("%d posts, %d processes killed, %d lookups", posts, kills, finds)
}
