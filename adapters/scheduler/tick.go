// Package scheduler calls a function every minute or so, on one replica at a time.
//
// It is gocron's scheduler with a lock from the store as its Locker: an advisory
// lock where the store is PostgreSQL, a lease where it is a file. Nothing
// depends on a tick happening once: what must happen once is decided by the
// store's keys. The lock only spares the weather services a second asker.
package scheduler

import (
	"context"
	"fmt"
	"log/slog"
	"time"

	"github.com/go-co-op/gocron/v2"
)

// Leases are names that one holder has for a while.
type Leases interface {
	Lease(ctx context.Context, name, holder string, d time.Duration) (held bool, err error)
	Release(ctx context.Context, name, holder string) error
}

// Sole is what a store can besides whose locks end with the process that holds
// them. Where it is there no lease is used.
type Sole interface {
	Alone(ctx context.Context, name string) (unlock func(context.Context) error, held bool, err error)
}

// Ticker calls its function until it is closed.
type Ticker struct{ scheduler gocron.Scheduler }

// Start calls fn at once and then every interval; a call that is still
// running is not joined by a second one. holder names this process among the
// replicas. fn's context ends with Close.
func Start(ctx context.Context, log *slog.Logger, leases Leases, holder, name string, interval time.Duration, fn func(ctx context.Context)) (*Ticker, error) {
	s, err := gocron.NewScheduler(
		gocron.WithLocation(time.UTC),
		gocron.WithLogger(quiet{log}),
		gocron.WithDistributedLocker(locker{leases, holder, interval}),
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

// locker lends gocron the store's locks, or its leases.
type locker struct {
	leases Leases
	holder string
	life   time.Duration
}

func (l locker) Lock(ctx context.Context, key string) (gocron.Lock, error) {
	name := "tick/" + key
	if sole, ok := l.leases.(Sole); ok {
		unlock, held, err := sole.Alone(ctx, name)
		switch {
		case err != nil:
			return nil, err
		case !held:
			return nil, fmt.Errorf("lock %s: another replica has it", name)
		}
		return ending(unlock), nil
	}
	held, err := l.leases.Lease(ctx, name, l.holder, l.life)
	if err != nil {
		return nil, fmt.Errorf("lease %s: %w", name, err)
	}
	if !held {
		return nil, fmt.Errorf("lease %s: another replica has it", name)
	}
	return lock{l, name}, nil
}

// ending ends a lock.
type ending func(context.Context) error

func (e ending) Unlock(ctx context.Context) error { return e(context.WithoutCancel(ctx)) }

type lock struct {
	locker
	name string
}

func (l lock) Unlock(ctx context.Context) error {
	// The job's context may have ended; the lease must go all the same.
	return l.leases.Release(context.WithoutCancel(ctx), l.name, l.holder)
}

// quiet keeps gocron's notices at the level of debugging: "another replica
// has it" is no error.
type quiet struct{ log *slog.Logger }

func (q quiet) Debug(msg string, args ...any) { q.log.Debug("schedule: "+msg, args...) }
func (q quiet) Info(msg string, args ...any)  { q.log.Debug("schedule: "+msg, args...) }
func (q quiet) Warn(msg string, args ...any)  { q.log.Debug("schedule: "+msg, args...) }
func (q quiet) Error(msg string, args ...any) { q.log.Debug("schedule: "+msg, args...) }
