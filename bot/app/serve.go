package app

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"sync"
	"time"

	"firn/bot/chat"
)

// The pace of serve. The product asks for a look every minute.
const (
	everyMinute = time.Minute
	stopTime    = 10 * time.Second // for requests under way at the end
)

// Front is where the page is reached.
type Front interface {
	// Serve answers requests until Shutdown; its error is nil then.
	Serve() error
	Shutdown(ctx context.Context) error
	URL() string // as people reach it
}

// ServeAt says where the page of an App is reached while it runs.
func (a *App) ServeAt(f Front) { a.front = f }

// Front is where it is; nil: nowhere.
func (a *App) Front() Front { return a.front }

// Serve runs what open makes until ctx ends. At each word of again it opens the
// configuration as it is now beside what runs, which is before, and goes on with
// that; where it cannot be right everything stays as it was. Each App is closed
// when it has stopped.
func Serve[S any](ctx context.Context, again <-chan S, open func(ctx context.Context, before *App) (*App, error)) error {
	a, err := open(ctx, nil)
	for err == nil {
		var next *App
		next, err = serve(ctx, a, again, open)
		a.Close()
		if next == nil {
			return err
		}
		a = next
	}
	return err
}

// serve runs everything until the context ends, something fails, or next is to
// take its place.
func serve[S any](ctx context.Context, a *App, again <-chan S, open func(context.Context, *App) (*App, error)) (next *App, err error) {
	// What runs ends with work, also when one of them fails.
	work, stop := context.WithCancel(context.WithoutCancel(ctx))
	defer stop()
	r := &running{App: a, ctx: work, failed: make(chan error, 6+len(a.surfaces)), dispatcher: a.dispatcher()}
	r.start()
	a.log.Info("ready", "page", a.front.URL(), "store", a.parts.Where, "stations", len(a.cfg.Stations))
	for next == nil && err == nil && ctx.Err() == nil {
		select {
		case <-ctx.Done():
		case err = <-r.failed:
		case <-again:
			next = a.reread(ctx, open)
		}
	}
	a.log.Info("stopping")
	stop()
	ending, cancel := context.WithTimeout(context.WithoutCancel(ctx), stopTime)
	defer cancel()
	r.end(ending)
	if next == nil {
		if err := a.memory.peers.Leave(ending, a.parts.Store); err != nil {
			a.log.Warn("the store does not take that this process ends", "err", err)
		}
	}
	a.log.Info("stopped")
	return next, err
}

// reread opens what comes in the place of an App; nil where that cannot be.
func (a *App) reread(ctx context.Context, open func(context.Context, *App) (*App, error)) *App {
	next, err := open(ctx, a)
	a.memory.reread(err == nil)
	if err != nil {
		a.log.Error("the configuration as it is now is not taken; the one before stays", "err", err)
		return nil
	}
	a.log.Info("the configuration was read again", "config", next.parts.Name)
	return next
}

// running is an App at work.
type running struct {
	*App
	ctx        context.Context // of all that runs
	all        sync.WaitGroup
	failed     chan error
	dispatcher *chat.Dispatcher
	stops      []func() error // of the rounds

	watched chan struct{} // closed after the first round of the watch
	first   sync.Once
}

// runs has something run until the context ends.
func (r *running) runs(name string, run func(context.Context) error) {
	r.all.Go(func() {
		if err := run(r.ctx); err != nil && !errors.Is(err, context.Canceled) {
			r.failed <- fmt.Errorf("%s: %w", name, err)
		}
	})
}

func (r *running) start() {
	r.watched = make(chan struct{})
	every := cmp.Or(r.parts.Pace.Tick, everyMinute)
	r.runs("page", func(context.Context) error { return r.front.Serve() })
	r.runs("outbox", r.outbox.Run)
	r.runs("record", r.book.Run)
	on := make([]chat.Surface, len(r.surfaces))
	for i, s := range r.surfaces {
		on[i] = s
	}
	r.runs("front pages", func(ctx context.Context) error { return r.dispatcher.KeepFronts(ctx, r.fronts, on...) })
	for _, on := range r.surfaces {
		r.runs(on.Name(), func(ctx context.Context) error { return on.Run(ctx, r.dispatcher) })
	}
	r.all.Go(func() { r.look(r.ctx, every) })
	r.all.Go(func() { r.beat(r.ctx) })
	r.all.Go(func() { r.behind(r.hear)(r.ctx) })
	for _, round := range []struct {
		name string
		do   func(context.Context)
	}{
		{"watch", r.watchRound},
		// Apart from the watch: no alert waits for the reports of thousands of bases.
		{"observe", r.behind(r.observe)},
		{"record", r.behind(r.recordRound)},
	} {
		stop, err := r.parts.Schedule(r.ctx, round.name, every, round.do)
		if err != nil {
			r.failed <- err
			continue
		}
		r.stops = append(r.stops, stop)
	}
}

// end waits for what runs, whose context has ended.
func (r *running) end(ctx context.Context) {
	for _, stop := range r.stops {
		if err := stop(); err != nil {
			r.log.Warn("a round not stopped well", "err", err)
		}
	}
	if err := r.front.Shutdown(ctx); err != nil {
		r.log.Warn("page not stopped well", "err", err)
	}
	r.all.Wait()
	r.dispatcher.Wait()
}

// behindAtMost is how long the first round of the watch is waited for: another
// replica may have it.
const behindAtMost = 2 * time.Second

// behind has f wait for the first round of the watch: whoever starts, perhaps
// after a crash, looks for alerts that are due before anything else.
func (r *running) behind(f func(context.Context)) func(context.Context) {
	return func(ctx context.Context) {
		select {
		case <-r.watched:
		case <-time.After(behindAtMost):
		case <-ctx.Done():
			return
		}
		f(ctx)
	}
}
