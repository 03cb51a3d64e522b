package slack

import (
	"context"
	"strings"
	"sync"
	"time"

	"golang.org/x/time/rate"

	"firn/bot/bounded"
)

// updateMethod is the one method that firn calls in bursts: newer weather
// changes every card of a base. Slack takes 50 a minute of a workspace
// (Web API methods, tier 3): a burst, what goes in the minute behind it and the
// edits that somebody waits for, which go before them, are fewer.
const (
	updateMethod  = "chat.update"
	editsAtOnce   = 4
	editEvery     = 1550 * time.Millisecond
	awaitedAtOnce = 3
	awaitedEvery  = 12 * time.Second
)

// awaited is the key of a context whose calls somebody waits for.
type awaited struct{}

// outboxPosts stands, with a channel behind it, for the outbox's posts to that
// channel. Slack takes about one a second there (chat.postMessage, rate limits);
// what people ask is answered beside them.
const (
	outboxPosts = "outbox "
	postsAtOnce = 3
	// unevenWay is a part of the pace that is left besides: what is on the way for
	// longer than what comes behind it would be too near to that.
	unevenWay = 10
)

// rateGates keep firn from asking Slack too often. Its limits are by method,
// and for messages by channel: a place that has to rest leaves the others
// alone.
type rateGates struct {
	now      func() time.Time
	sleep    func(ctx context.Context, d time.Duration) error
	pace     time.Duration // between two calls of one place that rested
	patience time.Duration // for calls without a deadline

	mu     sync.Mutex
	places *bounded.Map[string, *gate]
}

// gate is one place.
type gate struct {
	until time.Time     // Slack has said to wait until then
	paced *rate.Limiter // of those that waited, one after the other
	ahead *rate.Limiter // before Slack has said anything; nil: none
	first *rate.Limiter // of ahead, what is kept for whom somebody waits for
}

func newRateGates(now func() time.Time, sleep func(context.Context, time.Duration) error, pace, patience time.Duration) *rateGates {
	// A place of long ago that is forgotten is asked once too often, and rests
	// again.
	return &rateGates{now: now, sleep: sleep, pace: pace, patience: patience, places: bounded.New[string, *gate](1000, 0)}
}

// at is the gate of a place; mu is held.
func (g *rateGates) at(place string) *gate {
	if known, ok := g.places.Get(place, g.now()); ok {
		return known
	}
	made := &gate{paced: rate.NewLimiter(rate.Every(g.pace), 1)}
	switch {
	case place == updateMethod+" ":
		made.ahead = rate.NewLimiter(rate.Every(editEvery), editsAtOnce)
		made.first = rate.NewLimiter(rate.Every(awaitedEvery), awaitedAtOnce)
	case strings.HasPrefix(place, outboxPosts):
		made.ahead = rate.NewLimiter(rate.Every(g.pace+g.pace/unevenWay), postsAtOnce)
	}
	g.places.Put(place, made, g.now())
	return made
}

// pass waits until a call to a place may go. Those that wait go one after the
// other, pace apart, so that they do not run into the limit together. When
// the context leaves no time for that it says how long it would take.
func (g *rateGates) pass(ctx context.Context, place string) (short time.Duration, err error) {
	g.mu.Lock()
	at, now := g.at(place), g.now()
	limiter, from := at.ahead, now
	if rested := at.paced.TokensAt(now) < 1; at.until.After(now) || rested {
		limiter = at.paced
		if at.until.After(now) {
			from = at.until
		}
	}
	if limiter == nil {
		g.mu.Unlock()
		return 0, nil
	}
	turn := limiter.ReserveN(from, 1)
	wait := turn.DelayFrom(now)
	if at.first != nil && limiter == at.ahead && ctx.Value(awaited{}) != nil {
		if sooner := at.first.ReserveN(from, 1); sooner.DelayFrom(now) < wait {
			turn.CancelAt(from)
			turn, wait = sooner, sooner.DelayFrom(now)
		} else {
			sooner.CancelAt(from)
		}
	}
	if !g.leaves(ctx, wait) {
		turn.CancelAt(from)
		g.mu.Unlock()
		return wait, nil
	}
	g.mu.Unlock()
	if wait < time.Millisecond {
		return 0, nil
	}
	return 0, g.sleep(ctx, wait)
}

// rest closes a place for a while, for those that come and those that wait.
func (g *rateGates) rest(place string, d time.Duration) {
	g.mu.Lock()
	defer g.mu.Unlock()
	at := g.at(place)
	if until := g.now().Add(d); until.After(at.until) {
		at.until = until
	}
}

// leaves says whether a context leaves time for a wait.
func (g *rateGates) leaves(ctx context.Context, wait time.Duration) bool {
	if deadline, ok := ctx.Deadline(); ok {
		return time.Until(deadline) > wait
	}
	return wait <= g.patience
}
