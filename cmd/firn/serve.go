package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"sync"
	"time"

	"firn/adapters/console"
	"firn/adapters/ops"
	"firn/adapters/tick"
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

// Run serves until the context ends.
func (c *serveCommand) Run(ctx context.Context, h host) (err error) {
	h.stdout = console.Share(h.stdout)
	s, err := newServices(ctx, h, wanted{files: c.files, level: c.level(), form: c.LogFormat, now: h.now, screen: h.stdout, store: mayUpgrade, chat: true})
	if err != nil {
		return err
	}
	defer s.close()
	if err := s.channelsServed(); err != nil {
		return err
	}
	return s.serve(ctx, h.now, cmp.Or(h.pace.tick, everyMinute))
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

// serve runs the listener, the watch and the outbox until the context ends.
func (s *services) serve(ctx context.Context, now func() time.Time, every time.Duration) error {
	handler, err := s.handler()
	if err != nil {
		return err
	}
	listen := s.loaded.Page.Listen
	if listen == "" {
		listen = defaultListen
	}
	l, err := net.Listen("tcp", listen)
	if err != nil {
		return fmt.Errorf("page: %w; another firn may be running: set page listen in the configuration", err)
	}
	server := &http.Server{
		Handler:           handler,
		ReadHeaderTimeout: 5 * time.Second,
		ReadTimeout:       30 * time.Second,
		IdleTimeout:       2 * time.Minute,
		MaxHeaderBytes:    1 << 16,
		ErrorLog:          slog.NewLogLogger(s.log.Handler(), slog.LevelDebug),
	}
	// What runs ends with work, also when one of them fails.
	work, stop := context.WithCancel(context.WithoutCancel(ctx))
	defer stop()
	failed := make(chan error, 3+len(s.surfaces)+3)
	var running sync.WaitGroup
	running.Go(func() {
		serve := server.Serve
		if p := s.loaded.Page; p.TLSCert != "" {
			serve = func(l net.Listener) error {
				return server.ServeTLS(l, s.loaded.path(p.TLSCert), s.loaded.path(p.TLSKey))
			}
		}
		if err := serve(l); !errors.Is(err, http.ErrServerClosed) {
			failed <- fmt.Errorf("page: %w", err)
		}
	})
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
	desk := s.desk()
	for _, on := range s.surfaces {
		running.Go(func() {
			if err := on.Run(work, desk); err != nil && !errors.Is(err, context.Canceled) {
				failed <- fmt.Errorf("%s: %w", on.Name(), err)
			}
		})
	}
	watched := make(chan struct{})
	var first sync.Once
	running.Go(func() { behind(watched, s.hear)(work) })
	ticker, err := tick.Start(work, s.log, s.store, s.holder, "watch", every, func(ctx context.Context) {
		began := time.Now()
		t := s.watch.Tick(ctx)
		s.rounds.took("watch", time.Since(began))
		first.Do(func() { close(watched) })
		s.log.DebugContext(ctx, "watched", "bases", t.Bases, "wrote", t.Wrote, "failed", t.Failed)
	})
	if err != nil {
		failed <- err
	}
	// Apart from the watch: no alert waits for the reports of thousands of bases.
	observer, err := tick.Start(work, s.log, s.store, s.holder, "observe", every, behind(watched, s.observe))
	if err != nil {
		failed <- err
	}
	recorder, err := tick.Start(work, s.log, s.store, s.holder, "record", every, behind(watched, func(ctx context.Context) {
		began := time.Now()
		l := s.book.Look(ctx)
		s.rounds.took("record", time.Since(began))
		s.logHead(ctx)
		s.log.DebugContext(ctx, "record looked at", "read", l.Read, "noticed", l.Noticed, "expired", l.Expired, "told", l.Told, "failed", l.Failed)
	}))
	if err != nil {
		failed <- err
	}
	s.log.Info("ready", "page", s.reached(l.Addr().String()), "store", s.where, "stations", len(s.loaded.Stations))
	select {
	case <-ctx.Done():
		err = nil
	case err = <-failed:
	}
	s.log.Info("stopping")
	stop()
	for _, t := range []*tick.Ticker{ticker, observer, recorder} {
		if t == nil {
			continue
		}
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
	watched, err := ops.Handler(s.log, s.checks(), s.gauges())
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
