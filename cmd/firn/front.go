package main

import (
	"cmp"
	"context"
	"crypto/tls"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"time"
)

// front is where the page is reached.
type front struct {
	listen   string // as configured
	listener net.Listener
	pair     *renewable // nil: no TLS
}

// served is what serves now.
type served struct {
	services *services
	front    *front
}

// opened makes the services of the configuration as it is now, and their front,
// beside what serves already: with its store, and on its listener where the
// address is the same, so that nobody is refused meanwhile.
func opened(ctx context.Context, h host, w wanted, now *served) (s *services, f *front, err error) {
	if now != nil {
		w.before = now.services
	}
	if s, err = newServices(ctx, h, w); err != nil {
		return nil, nil, err
	}
	defer func() {
		if err != nil {
			s.close()
			s = nil
		}
	}()
	if err = s.channelsServed(); err != nil {
		return s, nil, err
	}
	var was *front
	if now != nil {
		was = now.front
		if is := s.loaded.file(); is != now.services.loaded.file() {
			return s, nil, fmt.Errorf("the store is another one there, %s: that needs a restart", is)
		}
	}
	f, err = s.openFront(was)
	return s, f, err
}

// openFront listens, after it has read the certificate.
func (s *services) openFront(was *front) (f *front, err error) {
	p := s.loaded.Page
	f = &front{listen: cmp.Or(p.Listen, defaultListen)}
	if p.TLSCert != "" {
		if f.pair, err = openCertificate(s.log, s.loaded.path(p.TLSCert), s.loaded.path(p.TLSKey)); err != nil {
			return nil, err
		}
	}
	if was != nil && was.listen == f.listen {
		f.listener, err = same(was.listener)
	} else {
		f.listener, err = net.Listen("tcp", f.listen)
	}
	if err != nil {
		return nil, fmt.Errorf("page: %w; another firn may be running: set page listen in the configuration", err)
	}
	return f, nil
}

// same is a listener on the socket of another, which stays open when that one
// is closed.
func same(l net.Listener) (net.Listener, error) {
	t, ok := l.(*net.TCPListener)
	if !ok {
		return nil, fmt.Errorf("%T cannot be kept", l)
	}
	f, err := t.File()
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return net.FileListener(f)
}

// server is the page's.
func (s *services) server(f *front) (*http.Server, error) {
	handler, err := s.handler()
	if err != nil {
		return nil, err
	}
	server := &http.Server{
		Handler:           handler,
		ReadHeaderTimeout: 5 * time.Second,
		ReadTimeout:       30 * time.Second,
		IdleTimeout:       2 * time.Minute,
		MaxHeaderBytes:    1 << 16,
		ErrorLog:          slog.NewLogLogger(s.log.Handler(), slog.LevelDebug),
	}
	if f.pair != nil {
		server.TLSConfig = &tls.Config{GetCertificate: f.pair.get}
	}
	return server, nil
}

// serve answers until the server is shut down.
func (f *front) serve(server *http.Server) error {
	if f.pair != nil {
		return server.ServeTLS(f.listener, "", "")
	}
	return server.Serve(f.listener)
}
