package discord

import (
	"bytes"
	"context"
	"encoding/json"
	"io"
	"math"
	"net/http"
	"strconv"
	"sync"
	"time"

	"golang.org/x/time/rate"

	"firn/bot/bounded"
)

// What firn does in bursts and nobody waits for, newer weather's edits and the
// outbox's posts, is spread before Discord asks for it. Discord's own figures
// come with its answers and go before these; five calls to a channel in five
// seconds are what they have been (common practice, no source). What people ask
// is answered beside it. A bucket of n that fills each d lets at most n + 5 s/d
// through in five seconds.
const (
	editsAtOnce, editEvery = 2, 1500 * time.Millisecond
	postsAtOnce, postEvery = 3, 2 * time.Second

	// Of all channels: Discord takes 50 calls a second of a bot (reference, "Rate
	// Limits", global rate limit); some are left for answers.
	spreadAtOnce, spreadEvery = 20, 50 * time.Millisecond
)

// spread is how a request goes.
type spread uint8

const (
	atOnce     spread = iota // somebody waits for it
	spreadEdit               // with the other edits of its channel
	spreadPost               // with the outbox's other posts to its channel
)

// clock is the time by which calls are spread and waits kept.
type clock struct {
	now   func() time.Time
	sleep func(ctx context.Context, d time.Duration) error
}

// mostGates bounds the routes that are remembered; one that is forgotten costs a
// 429, which is waited out.
const mostGates = 4096

// gates keep firn from asking Discord too often: a gate for each of its routes,
// and one for all.
type gates struct {
	clock clock

	mu     sync.Mutex
	routes *bounded.Map[string, *gate]
	until  time.Time // Discord takes nothing at all before
	ahead  *rate.Limiter
}

// gate is one route. Its requests go one at a time, so that each knows what the
// answer before it said is left.
type gate struct {
	turn  chan struct{}
	until time.Time     // Discord takes nothing before
	ahead *rate.Limiter // nil: of one that is never spread
}

func newGates(c clock) *gates {
	return &gates{clock: c, routes: bounded.New[string, *gate](mostGates, 0), ahead: rate.NewLimiter(rate.Every(spreadEvery), spreadAtOnce)}
}

// at is the gate of a route; mu is held.
func (g *gates) at(route string, how spread) *gate {
	one, ok := g.routes.Get(route, time.Time{})
	if !ok {
		one = &gate{turn: make(chan struct{}, 1)}
		g.routes.Put(route, one, time.Time{})
	}
	switch {
	case one.ahead != nil:
	case how == spreadEdit:
		one.ahead = rate.NewLimiter(rate.Every(editEvery), editsAtOnce)
	case how == spreadPost:
		one.ahead = rate.NewLimiter(rate.Every(postEvery), postsAtOnce)
	}
	return one
}

// pass waits until a request may go, and gives what is called when it has gone.
// Where the context leaves no time for that, short says how long it would take.
func (g *gates) pass(ctx context.Context, route string, how spread) (done func(), short time.Duration, err error) {
	if how != atOnce {
		g.mu.Lock()
		limiters := []*rate.Limiter{g.at(route, how).ahead, g.ahead}
		g.mu.Unlock()
		for _, l := range limiters {
			now := g.clock.now()
			turn := l.ReserveN(now, 1)
			wait := turn.DelayFrom(now)
			if !leaves(ctx, wait) {
				turn.CancelAt(now)
				return nil, wait, nil
			}
			if err := g.wait(ctx, wait); err != nil {
				return nil, 0, err
			}
		}
	}
	g.mu.Lock()
	one := g.at(route, how)
	g.mu.Unlock()
	select {
	case one.turn <- struct{}{}:
	case <-ctx.Done():
		return nil, 0, ctx.Err()
	}
	done = func() { <-one.turn }
	for {
		g.mu.Lock()
		until := one.until
		if g.until.After(until) {
			until = g.until
		}
		g.mu.Unlock()
		wait := until.Sub(g.clock.now())
		switch {
		case wait <= 0:
			return done, 0, nil
		case !leaves(ctx, wait):
			done()
			return nil, wait, nil
		}
		if err := g.wait(ctx, wait); err != nil {
			done()
			return nil, 0, err
		}
	}
}

func (g *gates) wait(ctx context.Context, d time.Duration) error {
	if d <= 0 {
		return ctx.Err()
	}
	return g.clock.sleep(ctx, d)
}

// leaves says whether a context leaves time for a wait.
func leaves(ctx context.Context, wait time.Duration) bool {
	end, ok := ctx.Deadline()
	return !ok || wait <= 0 || time.Until(end) > wait
}

// heed notes what an answer says of its route.
func (g *gates) heed(route string, said limit) {
	if said.wait <= 0 {
		return
	}
	g.mu.Lock()
	defer g.mu.Unlock()
	until := g.clock.now().Add(said.wait)
	if said.whole {
		if until.After(g.until) {
			g.until = until
		}
		return
	}
	if one := g.at(route, atOnce); until.After(one.until) {
		one.until = until
	}
}

// limit is what an answer says of how often firn may ask.
type limit struct {
	refused bool          // it was too often: nothing was done
	wait    time.Duration // until the next; 0: it may come at once
	whole   bool          // for every route
}

// limitOf reads it (Discord's reference, "Rate Limits"). The body of a refusal
// has fractions of a second, its header whole ones; what stands before Discord
// gives the header alone, and means every call. The body is given back whole.
func limitOf(res *http.Response) (l limit) {
	seconds := func(text string) time.Duration {
		s, err := strconv.ParseFloat(text, 64)
		if err != nil || !(s > 0) || s > mostWait.Seconds() {
			return 0
		}
		return time.Duration(math.Ceil(s*1e6)) * time.Microsecond
	}
	if res.StatusCode != http.StatusTooManyRequests {
		if res.Header.Get("X-RateLimit-Remaining") == "0" {
			l.wait = seconds(res.Header.Get("X-RateLimit-Reset-After"))
		}
		return l
	}
	raw, err := io.ReadAll(io.LimitReader(res.Body, 64<<10))
	res.Body = struct {
		io.Reader
		io.Closer
	}{io.MultiReader(bytes.NewReader(raw), res.Body), res.Body}
	var body struct {
		After  json.Number `json:"retry_after"`
		Global bool        `json:"global"`
	}
	l.refused = true
	plain := err != nil || json.Unmarshal(raw, &body) != nil
	if l.wait = seconds(body.After.String()); l.wait == 0 {
		l.wait = seconds(res.Header.Get("Retry-After"))
	}
	l.wait = max(l.wait, leastWait) // "0" must not make a busy loop
	l.whole = plain || body.Global || res.Header.Get("X-RateLimit-Global") == "true"
	return l
}

const (
	leastWait = 50 * time.Millisecond
	mostWait  = 24 * time.Hour // more is no wait that a service asks for
)

// listener tells requests that want to know it what their answers say of limits:
// discordgo keeps headers to itself.
type listener struct{ next http.RoundTripper }

type limitKey struct{}

// RoundTrip makes the request.
func (l listener) RoundTrip(q *http.Request) (*http.Response, error) {
	res, err := l.next.RoundTrip(q)
	if into, ok := q.Context().Value(limitKey{}).(*limit); ok && err == nil {
		*into = limitOf(res)
	}
	return res, err
}
