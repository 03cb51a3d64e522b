// Package scheduler calls a function every minute or so, on one replica at a time.
//
// It is gocron's scheduler with a lock from the store as its Locker, which ends
// with the process that has it. Nothing depends on a tick happening once: what
// must happen once is decided by the store's keys. The lock only spares the
// weather services a second asker.
package scheduler

import (
	"context"
	"fmt"
	"log/slog"
	"sync"
	"time"

	"github.com/go-co-op/gocron/v2"
)

// Locks are names that one process has at a time; a store has them. A lock ends
// with unlock, or with the process.
type Locks interface {
	Alone(ctx context.Context, name string) (unlock func(context.Context) error, held bool, err error)
}

// Ticker calls its function until it is closed.
type Ticker struct{ scheduler gocron.Scheduler }

// Start calls fn at once and then every interval; a call that is still
// running is not joined by a second one. fn's context ends with Close.
func Start(ctx context.Context, log *slog.Logger, locks Locks, name string, interval time.Duration, fn func(ctx context.Context)) (*Ticker, error) {
	s, err := gocron.NewScheduler(
		gocron.WithLocation(time.UTC),
		gocron.WithLogger(quiet{log}),
		gocron.WithDistributedLocker(&locker{log: log, locks: locks, every: interval}),
		gocron.WithStopTimeout(max(interval, leastStop)),
	)
	if err != nil {
		return nil, fmt.Errorf("schedule %s: %w", name, err)
	}
	_, err = s.NewJob(
		gocron.DurationJob(interval),
		gocron.NewTask(fn),
		gocron.WithName(name),
		gocron.WithContext(ctx),
		gocron.WithSingletonMode(gocron.LimitModeReschedule),
		gocron.WithStartAt(gocron.WithStartImmediately()),
	)
	if err != nil {
		return nil, fmt.Errorf("schedule %s: %w", name, err)
	}
	s.Start()
	return &Ticker{s}, nil
}

// leastStop is how long Close waits at least; the figure is ours.
const leastStop = 5 * time.Second

// Close waits for a call that is running, at most one interval, or leastStop
// where that is longer.
func (t *Ticker) Close() error {
	if err := t.scheduler.Shutdown(); err != nil {
		return fmt.Errorf("stop the schedule: %w", err)
	}
	return nil
}

// locker lends gocron the store's locks.
type locker struct {
	log   *slog.Logger
	locks Locks
	every time.Duration
	told  sync.Once
}

func (l *locker) Lock(ctx context.Context, key string) (gocron.Lock, error) {
	name := "tick/" + key
	unlock, held, err := l.locks.Alone(ctx, name)
	switch {
	case err != nil:
		return nil, err
	case !held:
		// Once: two that started together may meet each time.
		l.told.Do(func() {
			l.log.InfoContext(ctx, "another replica makes this round now", "round", key, "tried_again_in", l.every)
		})
		return nil, fmt.Errorf("lock %s: another replica has it", name)
	}
	return ending(unlock), nil
}

// ending ends a lock.
type ending func(context.Context) error

// Unlock ends it also where the job's context has ended.
func (e ending) Unlock(ctx context.Context) error { return e(context.WithoutCancel(ctx)) }

// quiet keeps gocron's notices at the level of debugging: "another replica
// has it" is no error.
type quiet struct{ log *slog.Logger }

func (q quiet) Debug(msg string, args ...any) { q.log.Debug("schedule: "+msg, args...) }
func (q quiet) Info(msg string, args ...any)  { q.log.Debug("schedule: "+msg, args...) }
func (q quiet) Warn(msg string, args ...any)  { q.log.Debug("schedule: "+msg, args...) }
func (q quiet) Error(msg string, args ...any) { q.log.Debug("schedule: "+msg, args...) }
