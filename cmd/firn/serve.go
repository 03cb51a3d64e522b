package main

import (
	"context"
	"net/http"
	"os"
	"os/signal"
	"syscall"

	"firn/adapters/console"
	"firn/adapters/front"
	"firn/adapters/health"
	"firn/bot/app"
)

// serveCommand runs everything that is configured.
type serveCommand struct {
	places
	logging
}

// Run serves until the context ends. At SIGHUP it goes on with the configuration
// and the certificate as they are then, if they can be right.
func (c *serveCommand) Run(ctx context.Context, h host) error {
	h.stdout = console.Share(h.stdout)
	again := make(chan os.Signal, 1)
	signal.Notify(again, syscall.SIGHUP)
	defer signal.Stop(again)
	s := &served{h: h, w: wanted{places: c.places, level: c.level(), form: c.LogFormat, now: h.now, screen: h.stdout, store: mayUpgrade, chat: true}}
	defer s.close()
	return app.Serve(ctx, again, s.open)
}

// served is what goes on when the configuration is read again.
type served struct {
	h  host
	w  wanted
	on *services // with the store
}

// open makes the services of the configuration as it is now, and their front,
// beside what serves already.
func (s *served) open(ctx context.Context, before *app.App) (_ *app.App, err error) {
	w := s.w
	var was *front.Front
	if before != nil {
		w.before = s.on
		was = before.Front().(*front.Front)
	}
	next, err := newServices(ctx, s.h, w)
	if err != nil {
		return nil, err
	}
	f, err := next.front(was)
	if err != nil {
		next.App.Close()
		if before == nil {
			next.closeStore()
		}
		return nil, err
	}
	next.ServeAt(f)
	s.on = next
	return next.App, nil
}

// close lets go of the store.
func (s *served) close() {
	if s.on != nil {
		s.on.closeStore()
	}
}

// front listens for the page and what a duty engineer looks at, once it is sure
// that every alert has somebody to be told.
func (s *services) front(was *front.Front) (*front.Front, error) {
	if err := s.ChannelsServed(); err != nil {
		return nil, err
	}
	watched, err := health.Handler(s.log, s.Checks(), s.Gauges(), s.meters.Collectors()...)
	if err != nil {
		return nil, err
	}
	mux := http.NewServeMux()
	for _, path := range []string{"GET /healthz", "GET /readyz", "GET /metrics"} {
		mux.Handle(path, watched)
	}
	mux.Handle("/", s.page.Handler())
	f, err := front.Open(s.log, s.loaded.front(), was)
	if err != nil {
		return nil, err
	}
	f.Handle(mux)
	return f, nil
}
