package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"net/http"
	"os"
	"os/signal"
	"sync"
	"syscall"
	"time"

	"firn/adapters/console"
	"firn/adapters/health"
	"firn/adapters/scheduler"
	"firn/bot/chat"
	"firn/bot/weather"
)

// defaultListen is the page's address where the configuration has none: on
// this machine only.
const defaultListen = "127.0.0.1:7470"

// The pace of serve. The product asks for a look every minute.
const (
	everyMinute = time.Minute
	stopTime    = 10 * time.Second // for requests under way at the end
)

// serveCommand runs everything that is configured.
type serveCommand struct {
	files
	logging
}

// Run serves until the context ends. At SIGHUP it goes on with the configuration
// and the certificate as they are then, if they can be right.
func (c *serveCommand) Run(ctx context.Context, h host) error {
	h.stdout = console.Share(h.stdout)
	again := make(chan os.Signal, 1)
	signal.Notify(again, syscall.SIGHUP)
	defer signal.Stop(again)
	w := wanted{files: c.files, level: c.level(), form: c.LogFormat, now: h.now, screen: h.stdout, store: mayUpgrade, chat: true}
	s, f, err := opened(ctx, h, w, nil)
	for err == nil {
		var next *services
		var at *front
		err = s.serve(ctx, f, h.now, cmp.Or(h.pace.tick, everyMinute), again, func() (err error) {
			next, at, err = opened(ctx, h, w, &served{s, f})
			return err
		})
		s.handed = next != nil
		s.close()
		if next == nil {
			return err
		}
		s, f = next, at
		s.borrowed = false
	}
	return err
}

// behindAtMost is how long the first round of the watch is waited for: another
// replica may have it.
const behindAtMost = 2 * time.Second

// behind has f wait for the first round of the watch: whoever starts, perhaps
// after a crash, looks for alerts that are due before anything else.
func behind(watched <-chan struct{}, f func(context.Context)) func(context.Context) {
	return func(ctx context.Context) {
		select {
		case <-watched:
		case <-time.After(behindAtMost):
		case <-ctx.Done():
			return
		}
		f(ctx)
	}
}

// serve runs everything on a front until the context ends, or until reread has
// made what comes in its place.
func (s *services) serve(ctx context.Context, f *front, now func() time.Time, every time.Duration, again <-chan os.Signal, reread func() error) error {
	server, err := s.server(f)
	if err != nil {
		return err
	}
	// What runs ends with work, also when one of them fails.
	work, stop := context.WithCancel(context.WithoutCancel(ctx))
	defer stop()
	failed := make(chan error, 3+len(s.surfaces)+3)
	var running sync.WaitGroup
	running.Go(func() {
		if err := f.serve(server); !errors.Is(err, http.ErrServerClosed) {
			failed <- fmt.Errorf("page: %w", err)
		}
	})
	desk := s.desk()
	s.work(work, &running, failed, desk, now, every)
	tickers := s.tickers(work, &running, failed, every)
	s.log.Info("ready", "page", s.reached(f.listener.Addr().String()), "store", s.where, "stations", len(s.loaded.Stations))
	err = s.until(ctx, failed, again, reread)
	s.log.Info("stopping")
	stop()
	for _, t := range tickers {
		if closing := t.Close(); closing != nil {
			s.log.Warn("a round not stopped well", "err", closing)
		}
	}
	ending, cancel := context.WithTimeout(context.WithoutCancel(ctx), stopTime)
	defer cancel()
	if closing := server.Shutdown(ending); closing != nil {
		s.log.Warn("page not stopped well", "err", closing)
	}
	running.Wait()
	desk.Wait()
	s.log.Info("stopped")
	return err
}

// until waits for the end: of the context, of something that runs, or of this
// configuration.
func (s *services) until(ctx context.Context, failed <-chan error, again <-chan os.Signal, reread func() error) error {
	for {
		select {
		case <-ctx.Done():
			return nil
		case err := <-failed:
			return err
		case <-again:
			if err := reread(); err != nil {
				s.log.Error("the configuration as it is now is not taken; the one before stays", "err", err)
				continue
			}
			s.log.Info("the configuration was read again", "config", s.loaded.name)
			return nil
		}
	}
}

// work starts what runs all the time.
func (s *services) work(work context.Context, running *sync.WaitGroup, failed chan<- error, desk *chat.Dispatcher, now func() time.Time, every time.Duration) {
	running.Go(func() {
		if err := s.outbox.Run(work); !errors.Is(err, context.Canceled) {
			failed <- fmt.Errorf("outbox: %w", err)
		}
	})
	running.Go(func() { s.look(work, now, every) })
	running.Go(func() {
		if err := s.book.Run(work); !errors.Is(err, context.Canceled) {
			failed <- fmt.Errorf("record: %w", err)
		}
	})
	for _, on := range s.surfaces {
		running.Go(func() {
			if err := on.Run(work, desk); err != nil && !errors.Is(err, context.Canceled) {
				failed <- fmt.Errorf("%s: %w", on.Name(), err)
			}
		})
	}
}

// tickers start what is done each minute, by one replica.
func (s *services) tickers(work context.Context, running *sync.WaitGroup, failed chan<- error, every time.Duration) (all []*scheduler.Ticker) {
	start := func(name string, fn func(context.Context)) {
		t, err := scheduler.Start(work, s.log, s.store, s.holder, name, every, fn)
		if err != nil {
			failed <- err
			return
		}
		all = append(all, t)
	}
	watched := make(chan struct{})
	var first sync.Once
	start("watch", func(ctx context.Context) {
		began := time.Now()
		t := s.watch.Tick(ctx)
		s.meters.ticked(t, s.now())
		s.rounds.took("watch", time.Since(began))
		first.Do(func() { close(watched) })
		s.log.DebugContext(ctx, "watched", "bases", t.Bases, "wrote", t.Wrote, "failed", t.Failed)
	})
	// Apart from the watch: no alert waits for the reports of thousands of bases.
	start("observe", behind(watched, s.observe))
	start("record", behind(watched, func(ctx context.Context) {
		began := time.Now()
		l := s.book.Sweep(ctx)
		s.rounds.took("record", time.Since(began))
		s.logHead(ctx)
		s.retire(ctx)
		s.log.DebugContext(ctx, "record looked at", "read", l.Read, "noticed", l.Noticed, "expired", l.Expired, "told", l.Told, "failed", l.Failed)
	}))
	running.Go(func() { behind(watched, s.hear)(work) })
	return all
}

// logHead logs the head of the history once a day, where the store does not
// reach: firn export --verify --since proves the history against it.
func (s *services) logHead(ctx context.Context) {
	day := s.now().UTC().Format(time.DateOnly)
	if day == s.headOf {
		return
	}
	head, err := s.store.Head(ctx)
	if err != nil {
		s.log.WarnContext(ctx, "head of the history not read", "err", err)
		return
	}
	s.headOf = day
	s.log.InfoContext(ctx, "head of the history", "head", head.String())
}

// stirredPause is at least between two looks: a front of cold air is many
// alerts. Over thousands of bases a look takes long, and the pages that are
// told of it longer: most of the time is for other things.
const (
	stirredPause = time.Second
	stirredShare = 20
)

// look keeps the bases' states for the page and the figures. Every replica
// looks for itself, each minute and when a base has an alert; the tick is for
// one.
func (s *services) look(ctx context.Context, now func() time.Time, every time.Duration) {
	t := time.NewTicker(every)
	defer t.Stop()
	for {
		at, began := now(), time.Now()
		if all, err := s.watch.Status(ctx, at); err == nil {
			s.page.Show(all, at)
			s.states.show(all, at)
			s.rounds.took("look", time.Since(began))
		}
		pause := time.NewTimer(min(max(stirredPause, stirredShare*time.Since(began)), every))
		select {
		case <-ctx.Done():
			return
		case <-pause.C:
		}
		select {
		case <-ctx.Done():
			return
		case <-t.C:
		case <-s.stirred:
		}
	}
}

// observeEvery is how often the watched bases' observations are asked for, so
// that the season of each is kept: reports are made every half hour or hour.
const observeEvery = 10 * time.Minute

// observe asks for the latest observation of each watched base; the chain
// keeps what is new. It is called by one tick at a time.
func (s *services) observe(ctx context.Context) {
	now := s.now()
	if now.Sub(s.observed) < observeEvery {
		return
	}
	s.observed = now
	var idents []string
	for i := range s.loaded.Stations {
		if s.loaded.Stations[i].Watch != nil {
			idents = append(idents, s.loaded.Stations[i].Ident)
		}
	}
	// What has no observation is for whoever asks to hear.
	_ = weather.Each(ctx, idents, 16, func(ctx context.Context, ident string) { _, _ = s.chain.Observation(ctx, ident) })
}

// handler is the page with what a duty engineer looks at.
func (s *services) handler() (http.Handler, error) {
	watched, err := health.Handler(s.log, s.checks(), s.gauges(), s.meters.collectors()...)
	if err != nil {
		return nil, err
	}
	mux := http.NewServeMux()
	for _, path := range []string{"GET /healthz", "GET /readyz", "GET /metrics"} {
		mux.Handle(path, watched)
	}
	mux.Handle("/", s.page.Handler())
	return mux, nil
}

// channelsServed refuses channels that nothing here can post to: an alert to
// one would be lost.
func (s *services) channelsServed() error {
	for i := range s.loaded.Stations {
		st := &s.loaded.Stations[i]
		if st.Watch == nil {
			continue
		}
		for _, a := range st.Watch.Channels {
			if !s.outbox.Serves(a.String()) {
				return fmt.Errorf("%s: alerts of %s go to %s, and nothing here posts there: %s", s.loaded.name, st.Ident, a, missing(a.Surface))
			}
		}
	}
	for _, a := range s.loaded.Everywhere() {
		if !s.outbox.Serves(a.String()) {
			return fmt.Errorf("%s: alerts go to %s, and nothing here posts there: %s", s.loaded.name, a, missing(a.Surface))
		}
	}
	for _, a := range s.loaded.Record.Team {
		if !s.outbox.Serves(a.String()) {
			return fmt.Errorf("%s: results are posted to %s, and nothing here posts there: %s", s.loaded.name, a, missing(a.Surface))
		}
	}
	for _, a := range s.loaded.Duty {
		if !a.Group() && !s.outbox.Serves(a.String()) {
			return fmt.Errorf("%s: alerts escalate to %s, and nothing here posts there: %s", s.loaded.name, a, missing(a.Surface))
		}
	}
	return nil
}
