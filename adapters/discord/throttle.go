package discord

import (
	"context"
	"crypto/tls"
	"net"
	"sync"
	"time"

	"github.com/gorilla/websocket"
	"golang.org/x/time/rate"
)

// identifyThrottle makes the gateway's connections, and paces what passes on
// them. discordgo identifies at once whenever it is told that its session is
// over; a session told so again and again would use up the day's
// identifications within a minute, and Discord then withdraws the token.
type identifyThrottle struct {
	turns *rate.Limiter

	mu   sync.Mutex
	open map[*throttledConn]struct{}
}

func newIdentifyThrottle(every time.Duration) *identifyThrottle {
	return &identifyThrottle{turns: rate.NewLimiter(rate.Every(every), 1), open: map[*throttledConn]struct{}{}}
}

// dialer is what discordgo connects with.
func (w *identifyThrottle) dialer() *websocket.Dialer {
	plain := &net.Dialer{Timeout: 10 * time.Second, KeepAlive: 30 * time.Second}
	secure := &tls.Dialer{NetDialer: plain, Config: &tls.Config{MinVersion: tls.VersionTLS12}}
	return &websocket.Dialer{
		HandshakeTimeout:  15 * time.Second,
		NetDialContext:    w.wrap(plain.DialContext),
		NetDialTLSContext: w.wrap(secure.DialContext),
	}
}

func (w *identifyThrottle) wrap(dial func(context.Context, string, string) (net.Conn, error)) func(context.Context, string, string) (net.Conn, error) {
	return func(ctx context.Context, network, addr string) (net.Conn, error) {
		conn, err := dial(ctx, network, addr)
		if err != nil {
			return nil, err
		}
		c := &throttledConn{Conn: conn, of: w, closed: make(chan struct{})}
		w.mu.Lock()
		w.open[c] = struct{}{}
		w.mu.Unlock()
		return c, nil
	}
}

// cut closes every connection, so that whoever reads from one gives up.
func (w *identifyThrottle) cut() {
	w.mu.Lock()
	var all []*throttledConn
	for c := range w.open {
		all = append(all, c)
	}
	w.mu.Unlock()
	for _, c := range all {
		_ = c.Close() // there is nothing to save
	}
}

// throttledConn is one connection.
type throttledConn struct {
	net.Conn
	of     *identifyThrottle
	once   sync.Once
	closed chan struct{}
}

// Write sends a frame; an identification waits for its turn.
func (c *throttledConn) Write(p []byte) (int, error) {
	if identifies(p) {
		if wait := c.of.turns.Reserve().Delay(); wait > 0 {
			t := time.NewTimer(wait)
			defer t.Stop()
			select {
			case <-t.C:
			case <-c.closed:
				return 0, net.ErrClosed
			}
		}
	}
	return c.Conn.Write(p)
}

// Close closes the connection.
func (c *throttledConn) Close() error {
	c.once.Do(func() {
		close(c.closed)
		c.of.mu.Lock()
		delete(c.of.open, c)
		c.of.mu.Unlock()
	})
	return c.Conn.Close()
}

// identifies says whether a frame is an identification (op 2). A client's
// frames are masked (RFC 6455, 5.2 and 5.3), and discordgo writes one at once.
func identifies(p []byte) bool {
	const text, masked = 0x81, 0x80
	if len(p) < 6 || p[0] != text || p[1]&masked == 0 {
		return false
	}
	at := 2
	switch p[1] &^ masked {
	case 126:
		at += 2
	case 127:
		at += 8
	}
	const begins = `{"op":2,`
	if len(p) < at+4+len(begins) {
		return false
	}
	key, payload := p[at:at+4], p[at+4:]
	for i := range len(begins) {
		if payload[i]^key[i%4] != begins[i] {
			return false
		}
	}
	return true
}
