package outbox_test

import (
	"cmp"
	"context"
	"errors"
	"slices"
	"sync"
	"time"

	"firn/bot/outbox"
	"firn/bot/reply"
)

// queue is a store in memory that keeps the whole of Queue's contract, and
// looks into nothing else.
type queue struct {
	mu    sync.Mutex
	now   func() time.Time // its own clock
	rows  []*row
	fail  error // of every call
	marks error // of Done, Later and GiveUp
}

type row struct {
	outbox.Item
	attempt       int
	maybe         bool
	next          time.Time
	until         time.Time
	sent, givenUp bool
	ref, reason   string
}

func (q *queue) put(items ...outbox.Item) {
	q.mu.Lock()
	defer q.mu.Unlock()
	for _, it := range items {
		q.rows = append(q.rows, &row{Item: it, next: it.Due})
	}
}

func (q *queue) waits(r *row) bool { return !r.sent && !r.givenUp }

func (q *queue) Claim(ctx context.Context, now time.Time, lease time.Duration, limit int) ([]outbox.Claim, error) {
	q.mu.Lock()
	defer q.mu.Unlock()
	if err := cmp.Or(q.fail, ctx.Err()); err != nil {
		return nil, err
	}
	type name struct{ channel, line string }
	first := map[name]int{} // the smallest seq that waits
	for _, r := range q.rows {
		line, seq := r.OrderingKey()
		k := name{r.Channel, line}
		if least, ok := first[k]; q.waits(r) && (!ok || seq < least) {
			first[k] = seq
		}
	}
	var ready []*row
	for _, r := range q.rows {
		if !q.waits(r) || r.next.After(now) || r.until.After(q.now()) {
			continue
		}
		if line, seq := r.OrderingKey(); seq == first[name{r.Channel, line}] {
			ready = append(ready, r)
		}
	}
	slices.SortStableFunc(ready, func(a, b *row) int { return a.Due.Compare(b.Due) })
	var claims []outbox.Claim
	for _, r := range ready[:min(limit, len(ready))] {
		r.attempt++
		r.until = q.now().Add(lease)
		claims = append(claims, outbox.Claim{Item: r.Item, Attempt: r.attempt, MaybeSent: r.maybe})
	}
	return claims, nil
}

func (q *queue) mark(c outbox.Claim, do func(*row)) (bool, error) {
	q.mu.Lock()
	defer q.mu.Unlock()
	if err := cmp.Or(q.fail, q.marks); err != nil {
		return false, err
	}
	for _, r := range q.rows {
		if r.Key == c.Key && r.Channel == c.Channel {
			if !q.waits(r) || r.attempt != c.Attempt {
				return false, nil
			}
			do(r)
			r.until = time.Time{}
			return true, nil
		}
	}
	return false, errors.New("no such item")
}

func (q *queue) Done(_ context.Context, c outbox.Claim, ref string, _ time.Time) (bool, error) {
	return q.mark(c, func(r *row) { r.sent, r.ref = true, ref })
}

func (q *queue) Later(_ context.Context, c outbox.Claim, due time.Time, reason string) (bool, error) {
	return q.mark(c, func(r *row) { r.next, r.reason = due, reason })
}

func (q *queue) GiveUp(_ context.Context, c outbox.Claim, reason string, _ time.Time) (bool, error) {
	return q.mark(c, func(r *row) { r.givenUp, r.reason = true, reason })
}

func (q *queue) Backlog(context.Context) (outbox.Backlog, error) {
	q.mu.Lock()
	defer q.mu.Unlock()
	var b outbox.Backlog
	for _, r := range q.rows {
		switch {
		case r.givenUp:
			b.GivenUp++
		case !r.sent:
			if b.Waiting++; b.Oldest.IsZero() || r.Due.Before(b.Oldest) {
				b.Oldest = r.Due
			}
		}
	}
	return b, q.fail
}

// at is the row of a key on its first channel.
func (q *queue) at(key string) row {
	q.mu.Lock()
	defer q.mu.Unlock()
	for _, r := range q.rows {
		if r.Key == key {
			return *r
		}
	}
	return row{}
}

// service is a surface that does nothing about a key that comes twice.
type service struct {
	mu    sync.Mutex
	posts []outbox.Post
	finds int
	// before may fail a call before it does anything, or hold it up; after
	// may fail a Send that was stored.
	before func(ctx context.Context, p outbox.Post) error
	after  func(p outbox.Post) error
	lookup func() error
}

func (s *service) Send(ctx context.Context, p outbox.Post) (string, error) {
	s.mu.Lock()
	before := s.before
	s.mu.Unlock()
	if before != nil {
		if err := before(ctx, p); err != nil {
			return "", err
		}
	}
	s.mu.Lock()
	s.posts = append(s.posts, p)
	s.mu.Unlock()
	if s.after != nil {
		if err := s.after(p); err != nil {
			return "", err
		}
	}
	return "ref " + p.Key, nil
}

func (s *service) Find(ctx context.Context, channel, key string) (string, bool, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.finds++
	if s.lookup != nil {
		if err := s.lookup(); err != nil {
			return "", false, err
		}
	}
	for _, p := range s.posts {
		if p.Channel == channel && p.Key == key {
			return "ref " + key, true, nil
		}
	}
	return "", false, nil
}

// recover ends the trouble while others are at it.
func (s *service) recover() {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.before = nil
}

// keys are what was posted, in order.
func (s *service) keys() []string {
	s.mu.Lock()
	defer s.mu.Unlock()
	var all []string
	for _, p := range s.posts {
		all = append(all, p.Key)
	}
	return all
}

func (s *service) last() outbox.Post {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.posts[len(s.posts)-1]
}

func item(key, channel string, due time.Time) outbox.Item {
	return outbox.Item{Key: key, Channel: channel, Body: reply.Reply{Kind: reply.KindStatus, Facts: []string{key}}, Made: due, Due: due}
}
