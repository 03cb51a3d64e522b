package fetch

import (
	"context"
	"errors"
	"fmt"
	"net"
	"net/http"
	"net/url"
	"strings"
	"sync"
	"time"

	"golang.org/x/time/rate"

	"firn/bot/sleep"
)

// Options are what a Client is made of; only BaseURL must be given.
type Options struct {
	BaseURL   string            // http or https; its path stands before every request's
	UserAgent string            // who asks; empty: "firn"
	Transport http.RoundTripper // nil: one of its own
	// Private lets the service's name lead to a private, loopback or link-local
	// address. A BaseURL that is such an address, or localhost, needs no leave.
	Private  bool
	Resolver *net.Resolver    // nil: the system's
	Now      func() time.Time // nil: the system's clock

	Timeout    time.Duration // for one exchange, its body included; 0: 20 s
	MaxBytes   int64         // of a body after decompression; 0: 8 MiB
	Concurrent int           // requests at a time; 0: 4
	Entries    int           // answers remembered; 0: 32768
}

// Client asks one service. Safe for use by several goroutines.
type Client struct {
	o    Options
	base *url.URL
	http *http.Client
	slot chan struct{} // one each request under way

	mu      sync.Mutex
	entries map[string]*entry
	wait    time.Time // the service is not asked before
}

// entry is one request's last answer. turn is held by whoever looks at it.
type entry struct {
	turn chan struct{}

	value any   // what was read out of the last good answer
	err   error // instead of value: the last failure
	until time.Time

	// Of the last good answer, for a conditional request.
	good           bool
	kept           any
	etag, modified string
}

// New makes a client. Its errors do not repeat the URL, which may hold a
// password.
func New(o Options) (*Client, error) {
	base, err := url.Parse(o.BaseURL)
	switch {
	case err != nil:
		return nil, errors.New("the base URL cannot be read")
	case base.Scheme != "http" && base.Scheme != "https" || base.Host == "":
		return nil, errors.New("the base URL must begin with https:// or http:// and a host")
	case base.RawQuery != "" || base.Fragment != "":
		return nil, errors.New("the base URL must end with its path: no ? and no #")
	}
	if o.UserAgent == "" {
		o.UserAgent = "firn"
	}
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Timeout <= 0 {
		o.Timeout = 20 * time.Second
	}
	if o.MaxBytes <= 0 {
		o.MaxBytes = 8 << 20
	}
	if o.Concurrent <= 0 {
		o.Concurrent = 4
	}
	if o.Entries <= 0 {
		o.Entries = 1 << 15
	}
	if o.Transport == nil {
		o.Transport = &http.Transport{
			Proxy:                  http.ProxyFromEnvironment,
			DialContext:            dialer(base.Hostname(), o.Private, o.Resolver),
			ForceAttemptHTTP2:      true,
			MaxConnsPerHost:        o.Concurrent,
			MaxIdleConnsPerHost:    o.Concurrent,
			IdleConnTimeout:        time.Minute,
			TLSHandshakeTimeout:    10 * time.Second,
			MaxResponseHeaderBytes: 64 << 10,
		}
	}
	c := &Client{o: o, base: base, slot: make(chan struct{}, o.Concurrent), entries: map[string]*entry{}}
	c.http = &http.Client{Transport: o.Transport, CheckRedirect: c.redirect}
	return c, nil
}

func (c *Client) redirect(req *http.Request, via []*http.Request) error {
	const most = 3
	if req.URL.Scheme != c.base.Scheme || !strings.EqualFold(req.URL.Host, c.base.Host) {
		return ErrRedirect
	}
	if len(via) > most {
		return fmt.Errorf("more than %d redirects", most)
	}
	return nil
}

// Request is what to ask for.
type Request struct {
	Path  string // below the base URL
	Query url.Values
	Types []string // media types that are read, the wanted one first
	// Ceiling is the longest that an answer is used without asking again,
	// whatever its headers say.
	Ceiling time.Duration
	// Due, where it is given, is when something newer than a good answer is to be
	// expected: until then, and no longer than the ceiling, the answer is used
	// though its headers would have it asked for again. Zero: not known.
	Due func(value any) time.Time
	// Pace, where it is given, is how often requests like this may be made; one
	// that would have to wait for longer than a few seconds fails with a
	// *WaitError, which is not remembered.
	Pace *rate.Limiter
}

// Answer is a body as it was received.
type Answer struct {
	Body     []byte
	Type     string // media type, lower case; empty when the service did not say
	Received time.Time
	// None says that the service has nothing there: status 204 or 404, or an
	// empty body.
	None bool
	// NotFound tells the 404 among them: of a request for several things at
	// once it may be about one.
	NotFound bool
}

// Get gives what read makes of the answer, out of memory while it is fresh. A
// failure is remembered for a while too. Two callers of one request wait for
// one answer. What is given is shared: nobody changes it.
//
// Errors wrap ErrUnreadable, ErrTooLarge, ErrRedirect, a *StatusError, a
// *WaitError, the context's or the connection's error. One request is always
// read by the same function.
func Get[T any](ctx context.Context, c *Client, r Request, read func(Answer) (T, error)) (T, error) {
	var zero T
	got, err := c.get(ctx, r, func(a Answer) (any, error) { return read(a) })
	if err != nil {
		return zero, fmt.Errorf("get %s: %w", r.Path, err)
	}
	return got.(T), nil
}

func (c *Client) get(ctx context.Context, r Request, read func(Answer) (any, error)) (any, error) {
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	e := c.entry(r.Path + "?" + r.Query.Encode())
	select {
	case e.turn <- struct{}{}:
		defer func() { <-e.turn }()
	case <-ctx.Done():
		return nil, ctx.Err()
	}
	now := c.o.Now()
	if now.Before(e.until) {
		return e.value, e.err
	}
	if wait := c.waiting(); now.Before(wait) {
		return nil, &WaitError{Until: wait}
	}
	select {
	case c.slot <- struct{}{}:
		defer func() { <-c.slot }()
	case <-ctx.Done():
		return nil, ctx.Err()
	}
	// Another request may have been told to wait while this one stood in line.
	if wait := c.waiting(); now.Before(wait) {
		return nil, &WaitError{Until: wait}
	}
	if err := c.pace(ctx, r.Pace); err != nil {
		return nil, err
	}
	value, life, err := c.exchange(ctx, r, e, read)
	if err == nil && r.Due != nil {
		if due := r.Due(value); !due.IsZero() {
			life = max(life, min(due.Sub(c.o.Now()), r.Ceiling))
		}
	}
	if err != nil && ctx.Err() != nil {
		return nil, ctx.Err() // says nothing of the service: not remembered
	}
	e.value, e.err, e.until = value, err, c.o.Now().Add(life)
	return value, err
}

// longestPace is how long a request waits for its turn under a pace; ours: a
// person waits for the answer.
const longestPace = 5 * time.Second

// pace waits until a request may be made.
func (c *Client) pace(ctx context.Context, p *rate.Limiter) error {
	if p == nil {
		return nil
	}
	now := c.o.Now()
	turn := p.ReserveN(now, 1)
	wait := turn.DelayFrom(now)
	if wait > longestPace {
		turn.CancelAt(now)
		return &WaitError{now.Add(wait), true}
	}
	if wait == 0 {
		return nil
	}
	return sleep.For(ctx, wait)
}

func (c *Client) waiting() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.wait
}

func (c *Client) leaveAlone(until time.Time) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if until.After(c.wait) {
		c.wait = until
	}
}

func (c *Client) entry(key string) *entry {
	c.mu.Lock()
	defer c.mu.Unlock()
	e := c.entries[key]
	if e == nil {
		// An entry that is dropped while somebody looks at it costs one more
		// request, nothing else.
		for old := range c.entries {
			if len(c.entries) < c.o.Entries {
				break
			}
			delete(c.entries, old)
		}
		e = &entry{turn: make(chan struct{}, 1)}
		c.entries[key] = e
	}
	return e
}
