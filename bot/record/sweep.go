package record

import (
	"context"
	"time"
)

// How often old records go. The figures are ours.
const (
	pruneEvery = 24 * time.Hour
	pruneFirst = 10 * time.Minute // after the start, which has other things to do
)

// Swept is what a round did; Read is how many records it held against the
// weather.
type Swept struct {
	Read, Noticed, Expired, Told, Failed, Pruned int
}

// Sweep holds the live records against newer weather, has those expire whose
// time is over, and changes cards that are behind. It may be missed, and come
// twice.
func (b *Book) Sweep(ctx context.Context) (l Swept) {
	b.expire(ctx, &l)
	if b.o.Computer != nil && (b.o.Observer != nil || b.o.Forecaster != nil) {
		b.notice(ctx, &l)
	}
	told := b.tell(ctx)
	l.Told, l.Failed = l.Told+told.Told, l.Failed+told.Failed
	b.prune(ctx, &l)
	return l
}

func (b *Book) expire(ctx context.Context, l *Swept) {
	err := b.store.EachRecord(ctx, Query{Due: b.now()}, func(r Record) error {
		if c, o := Decide(r, Action{Kind: KindExpired, At: b.now()}, b.set); o.Done {
			held, err := b.store.Apply(ctx, r, c)
			if held {
				l.Expired++
			}
			return err
		}
		return nil
	})
	b.failed(ctx, l, "expired records not told", err)
}

func (b *Book) prune(ctx context.Context, l *Swept) {
	now := b.now()
	b.mu.Lock()
	if b.pruned.IsZero() {
		b.pruned = now.Add(pruneFirst - pruneEvery)
	}
	due := b.set.Retain > 0 && now.Sub(b.pruned) >= pruneEvery
	if due {
		b.pruned = now
	}
	b.mu.Unlock()
	if !due {
		return
	}
	n, err := b.store.Prune(ctx, now.Add(-b.set.Retain), now)
	l.Pruned = n
	if n > 0 {
		b.log.InfoContext(ctx, "old records went", "records", n)
	}
	b.failed(ctx, l, "old records not taken", err)
}

func (b *Book) failed(ctx context.Context, l *Swept, what string, err error) {
	if err != nil && ctx.Err() == nil {
		l.Failed++
		b.log.ErrorContext(ctx, what, "err", err)
	}
}
