package front

import (
	"crypto/tls"
	"log/slog"
	"net"
	"net/http"
	"net/netip"
	"strings"
	"sync"
)

// mostConnections are answered at once: each open page has one or two, and more than a
// unit's people have is somebody who wants all of them. Whose address has more than its
// share of them is told so then, nobody else; when there are half as many more it is
// closed unheard: a process has no end of files. The figures are ours.
const mostConnections = 1000

// crowd counts the connections of a Front.
type crowd struct {
	log  *slog.Logger
	most int

	mu   sync.Mutex
	open int
	from map[string]int // open, by household
	told bool           // of this crowd
}

// state is the server's ConnState.
func (c *crowd) state(conn net.Conn, to http.ConnState) {
	c.mu.Lock()
	defer c.mu.Unlock()
	at := household(conn.RemoteAddr().String())
	switch to {
	case http.StateNew:
		if c.from == nil {
			c.from = map[string]int{}
		}
		c.open++
		c.from[at]++
		if c.open > c.most && !c.told {
			c.told = true
			c.log.Warn("the page has more connections than it answers: some are refused", "most", c.most)
		}
		if c.beyond(at, c.most+c.most/2) {
			if t, ok := conn.(*tls.Conn); ok {
				conn = t.NetConn() // it would say good-bye first
			}
			conn.Close()
		}
	case http.StateClosed, http.StateHijacked:
		if c.from[at]--; c.from[at] <= 0 {
			delete(c.from, at)
		}
		if c.open--; c.open <= c.most/2 {
			c.told = false
		}
	}
}

// beyond says that there are more than so many, and more of a household than its share
// of those that are answered. Within their shares all together have no more than
// those, so that who is heard beyond so many has an end too. c.mu is held.
func (c *crowd) beyond(at string, many int) bool {
	return c.open > many && c.from[at] > c.most/max(len(c.from), 1)
}

// refuses says that there are more than are answered, and that it is an address's doing.
func (c *crowd) refuses(addr string) bool {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.beyond(household(addr), c.most)
}

// household is whose connection an address with a port is: of IPv6 a household has
// a /64.
func household(addr string) string {
	a, err := netip.ParseAddrPort(addr)
	if err != nil {
		return addr
	}
	at := a.Addr().Unmap().WithZone("")
	if at.Is6() {
		return netip.PrefixFrom(at, 64).Masked().String()
	}
	return at.String()
}

// handler refuses what comes of too many. What looks after firn is
// answered all the same: it would restart a process that is only asked too much.
func (c *crowd) handler(h http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		switch {
		case !c.refuses(r.RemoteAddr), r.URL.Path == "/healthz", r.URL.Path == "/readyz", strings.HasPrefix(r.URL.Path, "/metrics"):
			h.ServeHTTP(w, r)
		default:
			w.Header().Set("Connection", "close")
			w.Header().Set("Retry-After", "30")
			http.Error(w, "Too many connections to this page: close what you do not need, and try again in half a minute.", http.StatusServiceUnavailable)
		}
	})
}
