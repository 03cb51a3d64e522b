package front

import (
	"crypto/tls"
	"log/slog"
	"net"
	"net/http"
	"strings"
	"sync"
)

// mostConnections are answered at once: each open page has one or two, and more than a
// unit's people have is somebody who wants all of them. Half as many more are told
// so, and what comes then is closed unheard: a process has no end of files. The
// figures are ours.
const mostConnections = 1000

// crowd counts the connections of a Front.
type crowd struct {
	log  *slog.Logger
	most int

	mu   sync.Mutex
	open int
	told bool // of this crowd
}

// state is the server's ConnState.
func (c *crowd) state(conn net.Conn, to http.ConnState) {
	c.mu.Lock()
	defer c.mu.Unlock()
	switch to {
	case http.StateNew:
		c.open++
		if c.open > c.most && !c.told {
			c.told = true
			c.log.Warn("the page has more connections than it answers: some are refused", "most", c.most)
		}
		if c.open > c.most+c.most/2 {
			if t, ok := conn.(*tls.Conn); ok {
				conn = t.NetConn() // it would say good-bye first
			}
			conn.Close()
		}
	case http.StateClosed, http.StateHijacked:
		if c.open--; c.open <= c.most/2 {
			c.told = false
		}
	}
}

// full says that there are more than are answered.
func (c *crowd) full() bool {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.open > c.most
}

// handler refuses what comes while there are too many. What looks after firn is
// answered all the same: it would restart a process that is only asked too much.
func (c *crowd) handler(h http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		switch {
		case !c.full(), r.URL.Path == "/healthz", r.URL.Path == "/readyz", strings.HasPrefix(r.URL.Path, "/metrics"):
			h.ServeHTTP(w, r)
		default:
			w.Header().Set("Connection", "close")
			w.Header().Set("Retry-After", "30")
			http.Error(w, "Too many connections to this page: close what you do not need, and try again in half a minute.", http.StatusServiceUnavailable)
		}
	})
}
