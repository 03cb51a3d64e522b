package front

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"net/http/httptest"
	"net/netip"
	"os"
	"strings"
	"testing"
	"time"
)

// TestListenHint: what cannot be listened on says what is wrong with it, and
// nothing else.
func TestListenHint(t *testing.T) {
	taken, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer taken.Close()
	const other, own = "another firn may be running", "is an address of this machine"
	for _, c := range []struct{ listen, want, not string }{
		{taken.Addr().String(), other, own},
		{"nowhere.invalid:80", own, other},
		{"192.0.2.1:7470", own, other}, // RFC 5737: documentation, nobody's
		{"127.0.0.1", own, other},      // no port
	} {
		_, err := Open(slog.New(slog.DiscardHandler), Options{Listen: c.listen}, nil)
		if err == nil || !strings.Contains(err.Error(), c.want) || strings.Contains(err.Error(), c.not) {
			t.Errorf("%s: %v, want %q", c.listen, err, c.want)
		}
	}
}

// TestOpenGoesOn: the same address is listened on beside the one before.
func TestOpenGoesOn(t *testing.T) {
	log := slog.New(slog.DiscardHandler)
	first, err := Open(log, Options{Listen: "127.0.0.1:0"}, nil)
	if err != nil {
		t.Fatal(err)
	}
	second, err := Open(log, Options{Listen: "127.0.0.1:0"}, first)
	if err != nil {
		t.Fatal(err)
	}
	defer second.Close()
	if a, b := first.URL(), second.URL(); a != b || !strings.HasPrefix(a, "http://127.0.0.1:") {
		t.Errorf("at %s, then at %s", a, b)
	}
	if err := first.Close(); err != nil {
		t.Fatal(err)
	}
	c, err := net.Dial("tcp", second.listener.Addr().String())
	if err != nil {
		t.Fatalf("nobody listens after the first is closed: %v", err)
	}
	c.Close()
}

// TestOwnPort: a reload that opens the page to others on the port it has says that
// this takes a restart, and not that another firn is running.
func TestOwnPort(t *testing.T) {
	log := slog.New(slog.DiscardHandler)
	first, err := Open(log, Options{Listen: "127.0.0.1:0"}, nil)
	if err != nil {
		t.Fatal(err)
	}
	defer first.Close()
	_, port, err := net.SplitHostPort(first.listener.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	if _, err = Open(log, Options{Listen: "0.0.0.0:" + port}, first); err == nil || !strings.Contains(err.Error(), "needs a restart") || strings.Contains(err.Error(), "another firn") {
		t.Errorf("%v", err)
	}
}

// TestURL: the page's address as people reach it.
func TestURL(t *testing.T) {
	for _, c := range []struct {
		o    Options
		want string
	}{
		{Options{Listen: "127.0.0.1:7470"}, "http://127.0.0.1:7470"},
		{Options{Listen: "field.example:443", Cert: "page.crt"}, "https://field.example:443"},
	} {
		if got, err := c.o.URL(); err != nil || got != c.want {
			t.Errorf("%+v: %q, %v, want %q", c.o, got, err, c.want)
		}
	}
	for text, want := range map[string]string{"https://firn.example.org/enter": "https://firn.example.org", "https://firn.example.org/": "https://firn.example.org", "https://example.org/firn": "", "firn.example.org": "", "ftp://firn.example.org": ""} {
		if got, err := ParseURL(text); got != want || (err == nil) != (want != "") {
			t.Errorf("%q: %q, %v, want %q", text, got, err, want)
		}
	}
	plain := Options{Listen: "0.0.0.0:80", Exposed: true}
	proxied, tls := plain, plain
	proxied.Proxied, tls.Cert = true, "page.crt"
	if !plain.Plain() || proxied.Plain() || tls.Plain() || (Options{}).Plain() {
		t.Error("what can be read on the way")
	}
}

// TestCrowd: more connections than are answered are told so, what comes beyond is
// closed, and what looks after firn is answered; when they have gone all is as before.
func TestCrowd(t *testing.T) {
	var log bytes.Buffer
	f, err := Open(slog.New(slog.NewTextHandler(&log, nil)), Options{Listen: "127.0.0.1:0"}, nil)
	if err != nil {
		t.Fatal(err)
	}
	f.Handle(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {}))
	f.crowd.most = 2
	served := make(chan error, 1)
	go func() { served <- f.Serve() }()
	var all []net.Conn
	ask := func(path string) string { // on a connection of its own, which stays
		t.Helper()
		c, err := net.Dial("tcp", f.listener.Addr().String())
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, c)
		fmt.Fprintf(c, "GET %s HTTP/1.1\r\nHost: localhost\r\n\r\n", path)
		res, err := http.ReadResponse(bufio.NewReader(c), nil)
		if err != nil {
			return "closed"
		}
		defer res.Body.Close()
		body, err := io.ReadAll(res.Body)
		if err != nil {
			t.Fatal(err)
		}
		return strings.TrimSpace(res.Status + " " + string(body))
	}
	left := func(n int) { // it is heard soon
		t.Helper()
		for end := time.Now().Add(10 * time.Second); ; time.Sleep(time.Millisecond) {
			f.crowd.mu.Lock()
			open := f.crowd.open
			f.crowd.mu.Unlock()
			if open == n {
				return
			}
			if time.Now().After(end) {
				t.Fatalf("%d connections, want %d", open, n)
			}
		}
	}
	for i, c := range []struct{ path, want string }{
		{"/", "200 OK"}, {"/", "200 OK"}, {"/readyz", "200 OK"},
		{"/", "closed"}, // one of which the third is not gone
	} {
		if got := ask(c.path); got != c.want {
			t.Errorf("connection %d: %s is %q, want %q", i+1, c.path, got, c.want)
		}
	}
	all[2].Close()
	left(2)
	const refused = "503 Service Unavailable Too many connections to this page: close what you do not need, and try again in half a minute."
	if got := ask("/"); got != refused {
		t.Errorf("one too many: %q, want %q", got, refused)
	}
	for _, c := range all {
		c.Close()
	}
	left(0)
	if got := ask("/"); got != "200 OK" {
		t.Errorf("when they have gone: %q", got)
	}
	if err := f.Shutdown(t.Context()); err != nil {
		t.Error(err)
	}
	if err := <-served; err != nil {
		t.Error(err)
	}
	if n := strings.Count(log.String(), "more connections than it answers"); n < 1 || n > 2 {
		t.Errorf("logged %d times:\n%s", n, &log)
	}
}

// peer is a connection of an address.
type peer struct {
	net.Conn
	from   net.Addr
	closed bool
}

func (p *peer) RemoteAddr() net.Addr { return p.from }
func (p *peer) Close() error         { p.closed = true; return nil }

// TestCrowdOfOne: whoever takes all connections is refused, and nobody else is: one
// household of addresses is one, and who comes when there are far too many is heard.
func TestCrowdOfOne(t *testing.T) {
	c := &crowd{log: slog.New(slog.DiscardHandler), most: 10}
	h := c.handler(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {}))
	came := map[string][]*peer{}
	come := func(from string) (code int) { // 0: closed unheard
		p := &peer{from: net.TCPAddrFromAddrPort(netip.MustParseAddrPort(from))}
		c.state(p, http.StateNew)
		came[from] = append(came[from], p)
		if p.closed {
			c.state(p, http.StateClosed)
			return 0
		}
		r, w := httptest.NewRequest("GET", "/", nil), httptest.NewRecorder()
		r.RemoteAddr = from
		h.ServeHTTP(w, r)
		return w.Code
	}
	const crew, one, two = "192.0.2.7:4000", "[2001:db8::1]:4000", "[2001:db8::2]:4000" // RFC 5737 and 3849
	for i, want := range []int{200, 200, 200, 200, 200, 200, 200, 200, 200, 200, 503, 503, 503, 503, 503, 0, 0} {
		if got := come([]string{one, two}[i%2]); got != want {
			t.Fatalf("connection %d of one household: %d, want %d", i+1, got, want)
		}
	}
	for i, want := range []int{200, 200, 200, 200, 200, 0} { // half of ten is its share
		if got := come(crew); got != want {
			t.Errorf("connection %d of somebody else: %d, want %d", i+1, got, want)
		}
	}
	if got := come(one); got != 0 {
		t.Errorf("one more of who has all: %d, want it closed", got)
	}
	for _, all := range came {
		for _, p := range all {
			if !p.closed {
				c.state(p, http.StateClosed)
			}
		}
	}
	if c.open != 0 || len(c.from) != 0 {
		t.Errorf("when all have gone: %d open, of %v", c.open, c.from)
	}
	if got := come(crew); got != http.StatusOK {
		t.Errorf("when all have gone: %d", got)
	}
}

// TestReadsNothing: whoever asks and takes no answer keeps neither the connection nor
// what writes to it.
func TestReadsNothing(t *testing.T) {
	f, err := Open(slog.New(slog.DiscardHandler), Options{Listen: "127.0.0.1:0"}, nil)
	if err != nil {
		t.Fatal(err)
	}
	gaveUp := make(chan error, 1)
	f.Handle(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		for piece, err := make([]byte, 1<<20), error(nil); ; {
			if _, err = w.Write(piece); err != nil {
				gaveUp <- err
				return
			}
		}
	}))
	if within := f.server.WriteTimeout; within <= 0 || within > 5*time.Minute {
		t.Fatalf("an answer may take %v to be read", within)
	}
	f.server.WriteTimeout = 50 * time.Millisecond
	served := make(chan error, 1)
	go func() { served <- f.Serve() }()
	c, err := net.Dial("tcp", f.listener.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	if _, err := c.Write([]byte("GET / HTTP/1.1\r\nHost: localhost\r\n\r\n")); err != nil {
		t.Fatal(err)
	}
	select {
	case err := <-gaveUp:
		if !errors.Is(err, os.ErrDeadlineExceeded) {
			t.Errorf("the answer ended with %v", err)
		}
	case <-time.After(10 * time.Second):
		t.Error("the answer is written for ever")
	}
	if err := f.Shutdown(t.Context()); err != nil {
		t.Error(err)
	}
	if err := <-served; err != nil {
		t.Error(err)
	}
}
