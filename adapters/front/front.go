// Package front is where the page is reached: a listener, its certificate, and
// the server behind them.
package front

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"syscall"
	"time"
)

// Options say where and how.
type Options struct {
	Listen    string // host:port
	Cert, Key string // files; empty: no TLS
	// Proxied says that a proxy stands before it, which has the TLS.
	Proxied bool
	// Exposed says that others than this machine reach it.
	Exposed bool
}

// Plain says that what others send can be read on the way.
func (o Options) Plain() bool { return o.Exposed && o.Cert == "" && !o.Proxied }

// Front is one that listens.
type Front struct {
	log      *slog.Logger
	o        Options
	listener net.Listener
	pair     *renewable // nil: no TLS
	server   *http.Server
	crowd    *crowd
}

// Open listens, after it has read the certificate; what comes is answered from
// Serve on. Where was listens at the same address the socket is that one's, so
// that nobody is refused meanwhile; nil: nothing listens yet.
func Open(log *slog.Logger, o Options, was *Front) (f *Front, err error) {
	f = &Front{log: log, o: o}
	if o.Cert != "" {
		if f.pair, err = openCertificate(log, o.Cert, o.Key); err != nil {
			return nil, err
		}
		if was != nil {
			if err := was.pair.worse(f.pair.pair); err != nil {
				return nil, fmt.Errorf("page: %s: %w", o.Cert, err)
			}
		}
	}
	if was != nil && was.o.Listen == o.Listen {
		f.listener, err = same(was.listener)
	} else {
		f.listener, err = net.Listen("tcp", o.Listen)
	}
	if err != nil {
		return nil, fmt.Errorf("page: %w; %s", err, hint(err, was.has(o.Listen)))
	}
	return f, nil
}

// has says that a Front listens on the port of an address; nil has none.
func (f *Front) has(listen string) bool {
	_, port, err := net.SplitHostPort(listen)
	if f == nil || err != nil {
		return false
	}
	_, own, err := net.SplitHostPort(f.listener.Addr().String())
	return err == nil && port == own
}

// hint says what to do about an address that cannot be listened on. own: this
// process listens on its port.
func hint(err error, own bool) string {
	_, unknown := errors.AsType[*net.DNSError](err)
	_, malformed := errors.AsType[*net.AddrError](err)
	switch {
	case errors.Is(err, syscall.EADDRINUSE) && own:
		return "this firn's page has that port already: another address on it needs a restart"
	case errors.Is(err, syscall.EADDRINUSE):
		return "another firn may be running: set page listen in the configuration"
	case errors.Is(err, syscall.EACCES):
		return "this user may not listen there: set page listen in the configuration to a port above 1023"
	case unknown || malformed || errors.Is(err, syscall.EADDRNOTAVAIL):
		return "page listen in the configuration is an address of this machine: 127.0.0.1:7470 for this machine alone, 0.0.0.0:7470 for others too"
	}
	return "see page listen in the configuration"
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

// An answer may take as long as this, with what is thought about it: whoever takes
// nothing would keep a connection and its buffers for ever. A stream sets its own
// limits. The figure is ours: a slow phone has the largest page in it many times.
const answerWithin = 2 * time.Minute

// Handle says who answers.
func (f *Front) Handle(h http.Handler) {
	f.crowd = &crowd{log: f.log, most: mostConnections}
	f.server = &http.Server{
		Handler:           f.crowd.handler(h),
		ConnState:         f.crowd.state,
		ReadHeaderTimeout: 5 * time.Second,
		ReadTimeout:       30 * time.Second,
		WriteTimeout:      answerWithin,
		IdleTimeout:       2 * time.Minute,
		MaxHeaderBytes:    1 << 16,
		ErrorLog:          slog.NewLogLogger(f.log.Handler(), slog.LevelDebug),
	}
	if f.pair != nil {
		f.server.TLSConfig = &tls.Config{GetCertificate: f.pair.get}
	}
}

// Serve answers until Shutdown; its error is nil then. Handle was called before.
func (f *Front) Serve() error {
	var err error
	if f.pair != nil {
		err = f.server.ServeTLS(f.listener, "", "")
	} else {
		err = f.server.Serve(f.listener)
	}
	if errors.Is(err, http.ErrServerClosed) {
		return nil
	}
	return err
}

// Shutdown waits for the requests under way.
func (f *Front) Shutdown(ctx context.Context) error { return f.server.Shutdown(ctx) }

// Close ends one that does not serve.
func (f *Front) Close() error { return f.listener.Close() }
