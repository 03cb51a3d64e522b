package wiring

import (
	"context"
	"net/http"

	"firn/adapters/front"
	"firn/adapters/health"
	"firn/bot/app"
)

// Serve runs everything that is configured until the context ends. At each word
// of again it goes on with the configuration and the certificate as they are
// then, if they can be right.
func Serve[S any](ctx context.Context, h Host, again <-chan S, w Wanted) error {
	s := &served{h: h, w: w}
	defer s.close()
	return app.Serve(ctx, again, s.open)
}

// served is what goes on when the configuration is read again.
type served struct {
	h  Host
	w  Wanted
	on *Services // with the store
}

// open makes the services of the configuration as it is now, and their front,
// beside what serves already.
func (s *served) open(ctx context.Context, before *app.App) (_ *app.App, err error) {
	w := s.w
	var was *front.Front
	if before != nil {
		w.Before = s.on
		was = before.Front().(*front.Front)
	}
	next, err := New(ctx, s.h, w)
	if err != nil {
		return nil, err
	}
	f, err := next.front(was)
	if err != nil {
		next.App.Close()
		if before == nil {
			next.unmakeStore()
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
		s.on.CloseStore()
	}
}

// front listens for the page and what a duty engineer looks at, once it is sure
// that every alert has somebody to be told.
func (s *Services) front(was *front.Front) (*front.Front, error) {
	if err := s.ChannelsServed(); err != nil {
		return nil, err
	}
	watched, err := health.Handler(s.Log, s.Checks(), s.Gauges(), s.meters.Collectors()...)
	if err != nil {
		return nil, err
	}
	mux := http.NewServeMux()
	for _, path := range []string{"GET /healthz", "GET /readyz", "GET /metrics"} {
		mux.Handle(path, watched)
	}
	mux.Handle("/", s.page.Handler())
	f, err := front.Open(s.Log, s.Loaded.Front(), was)
	if err != nil {
		return nil, err
	}
	f.Handle(mux)
	return f, nil
}
